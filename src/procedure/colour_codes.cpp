#include <algorithm>
#include <cmath>

#include "colour_codes_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::procedure {
namespace {

colour::HlgDisplay<> hlg_reference(const signal::Encoding& encoding) {
  const colour::Luminance<> peak{.cdm2 = encoding.nominal_peak_cdm2};
  return {.peak = peak, .black = {.cdm2 = 0}, .system_gamma = colour::hlg_system_gamma(peak)};
}

colour::Bt1886Display<> bt1886_reference(const signal::Encoding& encoding) {
  return {.peak = {.cdm2 = encoding.nominal_peak_cdm2}, .black = {.cdm2 = 0}};
}

colour::SignalRgb<> signal_for(const signal::Encoding& encoding, const colour::AbsoluteRgb<>& light) {
  switch (encoding.transfer) {
    case signal::Transfer::pq:
      return colour::pq_inverse_eotf(light);
    case signal::Transfer::hlg:
      return colour::hlg_inverse_eotf(light, hlg_reference(encoding));
    case signal::Transfer::bt1886:
      break;
  }
  const auto one = [&](double cdm2) {
    return colour::bt1886_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}, bt1886_reference(encoding)).value;
  };
  return {.r = one(light.r), .g = one(light.g), .b = one(light.b)};
}

}  // namespace

colour::AbsoluteRgb<> light_of(const signal::Encoding& encoding, const signal::CodeRgb& code) {
  const auto s = signal::signal_of(encoding, code);
  switch (encoding.transfer) {
    case signal::Transfer::pq:
      return colour::pq_eotf(s);
    case signal::Transfer::hlg:
      return colour::hlg_eotf(s, hlg_reference(encoding));
    case signal::Transfer::bt1886:
      break;
  }
  return colour::bt1886_eotf(s, bt1886_reference(encoding));
}

signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::AbsoluteRgb<>& light) {
  const auto s =
      signal_for(encoding, {.r = std::max(light.r, 0.0), .g = std::max(light.g, 0.0), .b = std::max(light.b, 0.0)});
  const auto code = [&](double value) {
    const double held = std::isfinite(value) ? std::clamp(value, 0.0, 1.0) : 0.0;
    return signal::grey_code(encoding, colour::Signal<>{.value = held}).code[0];
  };
  return {.code = {code(s.r), code(s.g), code(s.b)}};
}

signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::AbsoluteXyz<>& light) {
  return code_of(encoding,
                 colour::rgb_from_xyz(light, colour::xyz_to_rgb_matrix(signal::primaries_of(encoding.container))));
}

double white_cdm2(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const double read = setting.mean_cdm2("white", 1);
  const double known = read > 0 ? read : setting.context.expected_peak_cdm2;
  return std::min(known, light_of(encoding, signal::peak_code(encoding)).g);
}

Patch colour_patch(const Setting& setting, std::string key, const signal::CodeRgb& code, std::string words) {
  return {std::move(key), window(setting.context.encoding, code, setting.number("window_percent")), std::move(words)};
}

std::vector<Patch> white_and_black(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  return {colour_patch(setting, "white", signal::peak_code(encoding), "white at the highest code"),
          colour_patch(setting, "black", signal::black_code(encoding), "black")};
}

}  // namespace provenit::procedure
