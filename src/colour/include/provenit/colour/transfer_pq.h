#pragma once
// Perceptual quantisation: absolute luminance up to 10 000 cd/m2.
// source  SMPTE ST 2084:2014; Rec. ITU-R BT.2100-3 (PQ system)
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"
#include "provenit/colour/transfer_sdr.h"

namespace provenit::colour {

/// The constants as the documents' own fractions. Kernels and tests take them from here.
namespace pq {
inline constexpr double m1 = 2610.0 / 4096 / 4;
inline constexpr double m2 = 2523.0 / 4096 * 128;
inline constexpr double c1 = 3424.0 / 4096;  ///< = c3 - c2 + 1, so that E' = 1 at the peak
inline constexpr double c2 = 2413.0 / 4096 * 32;
inline constexpr double c3 = 2392.0 / 4096 * 32;
inline constexpr double peak_cdm2 = 10000;
}  // namespace pq

/// Light that a PQ reference display shows for a non-linear signal.
/// in      E' in [0, 1]; outside it is clamped: the reference display has no light below 0 or above 10 000 cd/m2
/// out     absolute luminance in cd/m2, [0, 10 000]
/// errors  none; NaN in, NaN out
/// exact   pq_inverse_eotf undoes it within 1e-9 relative for E' in [1e-6, 1]
/// slope   0 below E' = c1^m2 = 7.3e-7 (all of it is 0 cd/m2) and above 1
template <class T>
[[nodiscard]] Luminance<T> pq_eotf(const Signal<T>& signal) {
  using std::pow;
  if (signal.value <= 0.0) return {.cdm2 = T(0.0)};
  if (signal.value > 1.0) return {.cdm2 = T(pq::peak_cdm2)};
  const T x = pow(signal.value, 1 / pq::m2);
  return {.cdm2 = pq::peak_cdm2 * detail::power_from_zero(T((x - pq::c1) / (pq::c2 - pq::c3 * x)), 1 / pq::m1)};
}

/// Signal for which a PQ reference display shows this luminance.
/// in      luminance in cd/m2; below 0 it counts as 0. Above 10 000 the formula goes on (E' > 1, below 1.993), so that
///         differences between such readings are not lost
/// out     E'; 7.31e-7 and not 0 at 0 cd/m2, as the formula has it. The code at 0 cd/m2 is that of black all the same
/// errors  none; NaN in, NaN out
/// exact   pq_eotf undoes it within 1e-9 relative for luminances in [1e-30, 10 000]
/// slope   infinite at 0 cd/m2 and given as 0 there and below: linear propagation fails near black, use Monte Carlo
template <class T>
[[nodiscard]] Signal<T> pq_inverse_eotf(const Luminance<T>& luminance) {
  using std::pow;
  const T y = detail::power_from_zero(T(luminance.cdm2 / pq::peak_cdm2), pq::m1);
  return {.value = T(pow((pq::c1 + pq::c2 * y) / (1.0 + pq::c3 * y), pq::m2))};
}

/// Each channel by itself. Light counted as BT.2100 does: a, a, a is a white of a cd/m2.
template <class T>
[[nodiscard]] AbsoluteRgb<T> pq_eotf(const SignalRgb<T>& s) {
  return {.r = pq_eotf(Signal<T>{.value = s.r}).cdm2,
          .g = pq_eotf(Signal<T>{.value = s.g}).cdm2,
          .b = pq_eotf(Signal<T>{.value = s.b}).cdm2};
}
template <class T>
[[nodiscard]] SignalRgb<T> pq_inverse_eotf(const AbsoluteRgb<T>& c) {
  return {.r = pq_inverse_eotf(Luminance<T>{.cdm2 = c.r}).value,
          .g = pq_inverse_eotf(Luminance<T>{.cdm2 = c.g}).value,
          .b = pq_inverse_eotf(Luminance<T>{.cdm2 = c.b}).value};
}

/// PQ reference OOTF: display light of relative scene light E in [0, 1] (of one channel): 100 (G709[E])^2.4 with
/// G709[E] = BT.709 OETF of 59.5208 E. The document prints 267.84 E for the straight part, which is 4.5 x 59.5208 E to
/// five digits; taken from the composition here. Below 0 it counts as 0; above 1 the formula goes on.
/// exact   pq_inverse_ootf undoes it within 1e-9 relative, but for the gap of the BT.709 curve (see bt709_inverse_oetf)
template <class T>
[[nodiscard]] Luminance<T> pq_ootf(const Relative<T>& scene) {
  const Signal<T> g = bt709_oetf(Relative<T>{.value = T(59.5208 * scene.value)});
  return {.cdm2 = 100.0 * detail::power_from_zero(g.value, 2.4)};
}
template <class T>
[[nodiscard]] Relative<T> pq_inverse_ootf(const Luminance<T>& light) {
  const Signal<T> g{.value = detail::power_from_zero(T(light.cdm2 / 100.0), 1 / 2.4)};
  return {.value = T(bt709_inverse_oetf(g).value / 59.5208)};
}

}  // namespace provenit::colour
