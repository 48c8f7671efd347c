#include "pictures/light.h"

#include <algorithm>

#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal::pictures {
Light::Light(const Encoding& encoding)
    : encoding_(encoding),
      light_(encoding),
      top_cdm2_(encoding.transfer == Transfer::pq ? colour::pq::peak_cdm2 : encoding.nominal_peak_cdm2),
      to_xyz_(colour::rgb_to_xyz_matrix(primaries_of(encoding.container))),
      from_xyz_(colour::xyz_to_rgb_matrix(primaries_of(encoding.container))) {}

std::optional<CodeRgb> Light::code(const colour::AbsoluteRgb<>& light) const {
  const double largest = std::max({light.r, light.g, light.b});
  const double allowed = -kNegativeShare * largest;
  if (!(largest >= 0) || std::min({light.r, light.g, light.b}) < allowed) return std::nullopt;
  const auto s = light_.signal(light);
  constexpr double kRounding = 1e-9;
  if (std::max({s.r, s.g, s.b}) > 1 + kRounding) return std::nullopt;
  return nearest_code(encoding_, s);
}

std::optional<CodeRgb> Light::code(const colour::AbsoluteXyz<>& light) const {
  return code(colour::rgb_from_xyz(light, from_xyz_));
}

colour::AbsoluteRgb<> Light::light(const CodeRgb& code) const {
  return light_.light(signal_of(encoding_, code));
}

double Light::cdm2(const CodeRgb& code) const {
  return colour::xyz_from_rgb(light(code), to_xyz_).Y;
}

}  // namespace provenit::signal::pictures
