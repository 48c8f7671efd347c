#include "pictures/light.h"

#include <algorithm>

#include "provenit/colour/primaries.h"
#include "provenit/colour/quantise.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal::pictures {
namespace {

colour::HlgDisplay<> hlg_of(double peak_cdm2) {
  return colour::hlg_display(colour::Luminance<>{.cdm2 = peak_cdm2}, colour::Luminance<>{.cdm2 = 0});
}
colour::Bt1886Display<> bt1886_of(double peak_cdm2) {
  return {.peak = {.cdm2 = peak_cdm2}, .black = {.cdm2 = 0}};
}

colour::SignalRgb<> signals_of(const Encoding& e, const colour::AbsoluteRgb<>& c) {
  if (e.transfer == Transfer::pq) return colour::pq_inverse_eotf(c);
  if (e.transfer == Transfer::hlg) return colour::hlg_inverse_eotf(c, hlg_of(e.nominal_peak_cdm2));
  const auto one = [&](double cdm2) {
    return colour::bt1886_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}, bt1886_of(e.nominal_peak_cdm2)).value;
  };
  return {.r = one(c.r), .g = one(c.g), .b = one(c.b)};
}

}  // namespace

Light::Light(const Encoding& encoding)
    : encoding_(encoding),
      top_cdm2_(encoding.transfer == Transfer::pq ? colour::pq::peak_cdm2 : encoding.nominal_peak_cdm2),
      to_xyz_(colour::rgb_to_xyz_matrix(primaries_of(encoding.container))),
      from_xyz_(colour::xyz_to_rgb_matrix(primaries_of(encoding.container))) {}

std::optional<CodeRgb> Light::code(const colour::AbsoluteRgb<>& light) const {
  const double largest = std::max({light.r, light.g, light.b});
  const double allowed = -kNegativeShare * largest;
  if (!(largest >= 0) || std::min({light.r, light.g, light.b}) < allowed) return std::nullopt;
  const colour::AbsoluteRgb<> inside{
      .r = std::max(light.r, 0.0), .g = std::max(light.g, 0.0), .b = std::max(light.b, 0.0)};
  const auto s = signals_of(encoding_, inside);
  constexpr double kRounding = 1e-9;
  if (std::max({s.r, s.g, s.b}) > 1 + kRounding) return std::nullopt;
  const auto quantised = [&](double e) {
    return colour::quantise({.value = std::clamp(e, 0.0, 1.0)}, encoding_.bits, encoding_.range).value;
  };
  return CodeRgb{.code = {quantised(s.r), quantised(s.g), quantised(s.b)}};
}

std::optional<CodeRgb> Light::code(const colour::AbsoluteXyz<>& light) const {
  return code(colour::rgb_from_xyz(light, from_xyz_));
}

colour::AbsoluteRgb<> Light::light(const CodeRgb& code) const {
  const auto s = signal_of(encoding_, code);
  if (encoding_.transfer == Transfer::pq) return colour::pq_eotf(s);
  if (encoding_.transfer == Transfer::hlg) return colour::hlg_eotf(s, hlg_of(encoding_.nominal_peak_cdm2));
  const auto one = [&](double v) {
    return colour::bt1886_eotf(colour::Signal<>{.value = v}, bt1886_of(encoding_.nominal_peak_cdm2)).cdm2;
  };
  return {.r = one(s.r), .g = one(s.g), .b = one(s.b)};
}

double Light::cdm2(const CodeRgb& code) const {
  return colour::xyz_from_rgb(light(code), to_xyz_).Y;
}

}  // namespace provenit::signal::pictures
