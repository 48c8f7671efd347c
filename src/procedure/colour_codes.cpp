#include <algorithm>
#include <cmath>

#include "colour_codes_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"

namespace provenit::procedure {
colour::AbsoluteRgb<> light_of(const signal::Encoding& encoding, const signal::CodeRgb& code) {
  return signal::EncodedLight(encoding).light(signal::signal_of(encoding, code));
}

signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::AbsoluteRgb<>& light) {
  return signal::nearest_code(encoding, signal::EncodedLight(encoding).signal(light));
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
