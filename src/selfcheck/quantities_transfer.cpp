// Transfer functions of one signal or one colour.
#include <fmt/format.h>

#include <cmath>

#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "quantity.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

Values pq_inverse(Reader& in) {
  return {pq_inverse_eotf(Luminance<>{.cdm2 = in.number("L_cdm2")}).value};
}
Values pq(Reader& in) {
  return {pq_eotf(Signal<>{.value = in.number("E")}).cdm2};
}
Values hlg_forward(Reader& in) {
  return {hlg_oetf(Relative<>{.value = in.number("E")}).value};
}
Values hlg_gamma(Reader& in) {
  return {hlg_system_gamma(Luminance<>{.cdm2 = in.positive("L_W")})};
}

/// The library has the formula with kappa = 1.111; another base is the same power of it.
Values hlg_gamma_extended(Reader& in) {
  const double gamma = hlg_system_gamma_extended(Luminance<>{.cdm2 = in.positive("L_W")});
  const double kappa = in.has("kappa") ? in.positive("kappa") : 1.111;
  return {1.2 * std::pow(gamma / 1.2, std::log(kappa) / std::log(1.111))};
}

Values hlg_beta(Reader& in) {
  return {hlg_black_lift(hlg_display_of(in)).value};
}

Values hlg(Reader& in) {
  const auto light = hlg_eotf(in.rgb<SignalRgb>("RGB_signal"), hlg_display_of(in));
  return {light.r, light.g, light.b};
}

Values bt1886(Reader& in) {
  const Bt1886Display<> display{.peak = {in.positive("L_W")}, .black = {in.not_negative("L_B")}};
  if (display.black.cdm2 >= display.peak.cdm2) in.fail("L_B", "L_B is not below L_W", "Give a black below the peak.");
  return {bt1886_eotf(Signal<>{.value = in.number("V")}, display).cdm2};
}

Values srgb(Reader& in) {
  return {srgb_eotf(Signal<>{.value = in.number("V")}).value};
}
Values bt709(Reader& in) {
  return {bt709_oetf(Relative<>{.value = in.number("L")}).value};
}

constexpr Quantity kTransferQuantities[] = {
    {"pq_inverse_eotf", pq_inverse},
    {"pq_eotf", pq},
    {"hlg_oetf", hlg_forward},
    {"hlg_system_gamma", hlg_gamma},
    {"hlg_system_gamma_extended", hlg_gamma_extended},
    {"hlg_black_lift_beta", hlg_beta},
    {"hlg_eotf", hlg},
    {"bt1886_eotf", bt1886},
    {"srgb_eotf", srgb},
    {"bt709_oetf", bt709},
};

}  // namespace

HlgDisplay<> hlg_display_of(Reader& in) {
  const Luminance<> peak{in.positive("L_W")}, black{in.has("L_B") ? in.not_negative("L_B") : 0};
  if (black.cdm2 >= peak.cdm2) in.fail("L_B", "L_B is not below L_W", "Give a black below the peak.");
  const bool by_peak = !in.has("gamma") || in.text("gamma") == "by L_W";
  return {.peak = peak, .black = black, .system_gamma = by_peak ? hlg_system_gamma(peak) : in.positive("gamma")};
}

std::span<const Quantity> transfer_quantities() {
  return kTransferQuantities;
}

}  // namespace provenit::selfcheck
