#include "provenit/signal/encoded_light.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal {

EncodedLight::EncodedLight(const Encoding& encoding)
    : transfer_(encoding.transfer),
      hlg_(
          colour::hlg_display(colour::Luminance<>{.cdm2 = encoding.nominal_peak_cdm2}, colour::Luminance<>{.cdm2 = 0})),
      bt1886_{.peak = {.cdm2 = encoding.nominal_peak_cdm2}, .black = {.cdm2 = 0}},
      to_xyz_(rgb_to_xyz_matrix(primaries_of(encoding.container))) {}

colour::AbsoluteRgb<> EncodedLight::light(const colour::SignalRgb<>& signal) const {
  switch (transfer_) {
    case Transfer::pq:
      return colour::pq_eotf(signal);
    case Transfer::hlg:
      return colour::hlg_eotf(signal, hlg_);
    case Transfer::bt1886:
      break;
  }
  return colour::bt1886_eotf(signal, bt1886_);
}

colour::AbsoluteXyz<> EncodedLight::xyz(const colour::SignalRgb<>& signal) const {
  return xyz_from_rgb(light(signal), to_xyz_);
}

colour::SignalRgb<> EncodedLight::signal(colour::AbsoluteRgb<> light) const {
  for (double* x : {&light.r, &light.g, &light.b}) *x = std::max(*x, 0.0);
  colour::SignalRgb<> s;
  switch (transfer_) {
    case Transfer::pq:
      s = colour::pq_inverse_eotf(light);
      break;
    case Transfer::hlg:
      s = colour::hlg_inverse_eotf(light, hlg_);
      break;
    case Transfer::bt1886:
      s = colour::bt1886_inverse_eotf(light, bt1886_);
      break;
  }
  for (double* x : {&s.r, &s.g, &s.b}) *x = std::isfinite(*x) ? std::max(*x, 0.0) : 0.0;
  return s;
}

}  // namespace provenit::signal
