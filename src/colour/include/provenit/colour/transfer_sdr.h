#pragma once
// BT.1886, the OETFs of BT.709 and BT.2020, sRGB, and the pure power law.
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"

namespace provenit::colour {

/// What BT.1886 needs to know of a display, in cd/m2. 0 <= black < peak.
template <class T = double>
struct Bt1886Display {
  Luminance<T> peak;   ///< L_W: at V = 1
  Luminance<T> black;  ///< L_B: at V = 0
};

namespace detail {
/// a and b of the EOTF; scale = L_W^(1/2.4) - L_B^(1/2.4), a = scale^2.4.
template <class T>
struct Bt1886Terms {
  T scale, b;
};
template <class T>
Bt1886Terms<T> bt1886_terms(const Bt1886Display<T>& display) {
  const T white = power_from_zero(display.peak.cdm2, 1 / 2.4);
  const T black = power_from_zero(display.black.cdm2, 1 / 2.4);
  return {.scale = white - black, .b = black / (white - black)};
}
}  // namespace detail

/// Reference EOTF of SDR television: L = a max(V + b, 0)^2.4.
/// in      V nominally in [0, 1]; above 1 the formula goes on (super-white), below -b it gives 0
/// out     cd/m2; L_B at V = 0, L_W at V = 1
/// exact   bt1886_inverse_eotf undoes it within 1e-9 relative for V > -b
/// source  Rec. ITU-R BT.1886-0 (03/2011), Annex 1
template <class S, class D>
[[nodiscard]] Luminance<Mixed<S, D>> bt1886_eotf(const Signal<S>& signal, const Bt1886Display<D>& display) {
  using R = Mixed<S, D>;
  const auto terms = detail::bt1886_terms(display);
  return {.cdm2 = detail::power_from_zero(R(terms.scale * (signal.value + terms.b)), 2.4)};
}
/// Below 0 cd/m2 it counts as 0, which is V = -b.
template <class S, class D>
[[nodiscard]] Signal<Mixed<S, D>> bt1886_inverse_eotf(const Luminance<S>& light, const Bt1886Display<D>& display) {
  const auto terms = detail::bt1886_terms(display);
  return {.value = detail::power_from_zero(light.cdm2, 1 / 2.4) / terms.scale - terms.b};
}
/// Each channel by itself; light counted so that a, a, a is a white of a cd/m2.
template <class S, class D>
[[nodiscard]] AbsoluteRgb<Mixed<S, D>> bt1886_eotf(const SignalRgb<S>& s, const Bt1886Display<D>& display) {
  return {.r = bt1886_eotf(Signal<S>{.value = s.r}, display).cdm2,
          .g = bt1886_eotf(Signal<S>{.value = s.g}, display).cdm2,
          .b = bt1886_eotf(Signal<S>{.value = s.b}, display).cdm2};
}
template <class S, class D>
[[nodiscard]] SignalRgb<Mixed<S, D>> bt1886_inverse_eotf(const AbsoluteRgb<S>& c, const Bt1886Display<D>& display) {
  return {.r = bt1886_inverse_eotf(Luminance<S>{.cdm2 = c.r}, display).value,
          .g = bt1886_inverse_eotf(Luminance<S>{.cdm2 = c.g}, display).value,
          .b = bt1886_inverse_eotf(Luminance<S>{.cdm2 = c.b}, display).value};
}

/// Pure power law: light = V^exponent relative to V = 1. Below 0 counts as 0; above 1 it goes on.
template <class T>
[[nodiscard]] Relative<T> power_eotf(const Signal<T>& signal, double exponent) {
  return {.value = detail::power_from_zero(signal.value, exponent)};
}
template <class T>
[[nodiscard]] Signal<T> power_inverse_eotf(const Relative<T>& light, double exponent) {
  return {.value = detail::power_from_zero(light.value, 1 / exponent)};
}

/// The constants of the television OETF E' = 4.5 E (E < beta), alpha E^0.45 - (alpha - 1).
struct OetfConstants {
  double alpha, beta;
};
/// Rec. ITU-R BT.709-6, and BT.2020-2 for 10 bits. The two parts miss each other by 2.5e-4 at beta.
inline constexpr OetfConstants bt709_constants{.alpha = 1.099, .beta = 0.018};
/// Rec. ITU-R BT.2020-2 for 12 bits.
inline constexpr OetfConstants bt2020_12bit_constants{.alpha = 1.0993, .beta = 0.0181};
/// Where the two parts meet with equal slope.
inline constexpr OetfConstants bt2020_exact_constants{.alpha = 1.09929682680944, .beta = 0.018053968510807};

/// OETF of BT.709 and BT.2020 (scene light to signal; not the target of a display, see bt1886_eotf).
/// in      E nominally in [0, 1]; negative light mirrors (f(-E) = -f(E)), above 1 the formula goes on
template <class T>
[[nodiscard]] Signal<T> bt709_oetf(const Relative<T>& light, const OetfConstants& k = bt709_constants) {
  using std::pow;
  if (light.value < 0.0) return {.value = T(-bt709_oetf(Relative<T>{.value = T(-light.value)}, k).value)};
  if (light.value < k.beta) return {.value = T(4.5 * light.value)};
  return {.value = T(k.alpha * pow(light.value, 0.45) - (k.alpha - 1.0))};
}
/// A signal in the gap between the two parts, which no light produces, counts as beta, so that the inverse is monotone.
/// exact   undoes the OETF within 1e-9 relative
template <class T>
[[nodiscard]] Relative<T> bt709_inverse_oetf(const Signal<T>& signal, const OetfConstants& k = bt709_constants) {
  using std::pow;
  if (signal.value < 0.0) return {.value = T(-bt709_inverse_oetf(Signal<T>{.value = T(-signal.value)}, k).value)};
  if (signal.value < 4.5 * k.beta) return {.value = T(signal.value / 4.5)};
  const T light = pow((signal.value + (k.alpha - 1.0)) / k.alpha, 1 / 0.45);
  if (light < k.beta) return {.value = T(k.beta)};
  return {.value = light};
}

/// sRGB signal to linear light relative to white.
/// in      V nominally in [0, 1]; negative values mirror, above 1 the formula goes on
/// exact   srgb_inverse_eotf undoes it within 1e-9 relative but at V = 0.04045, where the parts miss each other by 3e-8
///         of V
/// source  IEC 61966-2-1:1999
template <class T>
[[nodiscard]] Relative<T> srgb_eotf(const Signal<T>& signal) {
  using std::pow;
  if (signal.value < 0.0) return {.value = T(-srgb_eotf(Signal<T>{.value = T(-signal.value)}).value)};
  if (signal.value <= 0.04045) return {.value = T(signal.value / 12.92)};
  return {.value = T(pow((signal.value + 0.055) / 1.055, 2.4))};
}
/// Break at 0.04045 / 12.92 (printed as 0.0031308), so that it is the inverse of the above.
template <class T>
[[nodiscard]] Signal<T> srgb_inverse_eotf(const Relative<T>& light) {
  using std::pow;
  if (light.value < 0.0) return {.value = T(-srgb_inverse_eotf(Relative<T>{.value = T(-light.value)}).value)};
  if (light.value <= 0.04045 / 12.92) return {.value = T(12.92 * light.value)};
  return {.value = T(1.055 * pow(light.value, 1 / 2.4) - 0.055)};
}

}  // namespace provenit::colour
