#pragma once
// Hybrid log-gamma. The signal stands for scene light; display light depends on the display's peak, black and system
// gamma, and on all three channels together.
// source  Rec. ITU-R BT.2100-3, Table 5 and its notes 5e, 5f; Report ITU-R BT.2390 section 6.2 (gamma outside 400-2000)
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"

namespace provenit::colour {

/// BT.2100-1 and later editions differ in HLG's black level (and in ICtCp for HLG), so the edition is part of a
/// method's name. bt2100_2 stands for BT.2100-2 and BT.2100-3, which agree.
enum class Bt2100Edition { bt2100_1, bt2100_2 };

namespace hlg {
inline constexpr double a = 0.17883277;
inline constexpr double b = 1 - 4 * a;
inline constexpr double c = 0.559910729529562020;  ///< 0.5 - a ln(4a), to the digits of a double
inline constexpr double red = 0.2627, green = 0.6780, blue = 0.0593;
}  // namespace hlg

/// Scene light E, [0, 1] (E = 1/12 at E' = 0.5), to signal.
/// in      negative light mirrors (f(-E) = -f(E)), above 1 the formula goes on (super-white, E' = 1.09 at 1.65)
/// exact   hlg_inverse_oetf undoes it within 1e-9 relative
/// slope   infinite at 0 and given as 0 there
template <class T>
[[nodiscard]] Signal<T> hlg_oetf(const Relative<T>& scene) {
  using std::log;
  if (scene.value < 0.0) return {.value = T(-hlg_oetf(Relative<T>{.value = T(-scene.value)}).value)};
  if (scene.value <= 1.0 / 12) return {.value = detail::root_from_zero(T(3.0 * scene.value))};
  return {.value = T(hlg::a * log(12.0 * scene.value - hlg::b) + hlg::c)};
}
template <class T>
[[nodiscard]] Relative<T> hlg_inverse_oetf(const Signal<T>& signal) {
  using std::exp;
  if (signal.value < 0.0) return {.value = T(-hlg_inverse_oetf(Signal<T>{.value = T(-signal.value)}).value)};
  if (signal.value <= 0.5) return {.value = T(signal.value * signal.value / 3.0)};
  return {.value = T((exp((signal.value - hlg::c) / hlg::a) + hlg::b) / 12.0)};
}
template <class T>
[[nodiscard]] SignalRgb<T> hlg_oetf(const RelativeRgb<T>& c) {
  return {.r = hlg_oetf(Relative<T>{.value = c.r}).value,
          .g = hlg_oetf(Relative<T>{.value = c.g}).value,
          .b = hlg_oetf(Relative<T>{.value = c.b}).value};
}
template <class T>
[[nodiscard]] RelativeRgb<T> hlg_inverse_oetf(const SignalRgb<T>& s) {
  return {.r = hlg_inverse_oetf(Signal<T>{.value = s.r}).value,
          .g = hlg_inverse_oetf(Signal<T>{.value = s.g}).value,
          .b = hlg_inverse_oetf(Signal<T>{.value = s.b}).value};
}

/// System gamma of note 5f: 1.2 + 0.42 log10(L_W / 1000). Stated for L_W in 400 to 2000 cd/m2; L_W > 0.
template <class T>
[[nodiscard]] T hlg_system_gamma_basic(const Luminance<T>& peak) {
  using std::log;
  return 1.2 + 0.42 / 2.302585092994045684 * log(peak.cdm2 / 1000.0);
}
/// Extended formula, 1.2 x 1.111^log2(L_W / 1000), for L_W outside 400 to 2000 cd/m2 (BT.2390 section 6.2); L_W > 0.
template <class T>
[[nodiscard]] T hlg_system_gamma_extended(const Luminance<T>& peak) {
  using std::exp, std::log;
  return 1.2 * exp(std::log(1.111) * (log(peak.cdm2 / 1000.0) / std::log(2.0)));
}
/// The gamma a display is to have: basic in [400, 2000] cd/m2, extended outside. The two do not meet: gamma jumps by
/// 0.011 at 400 and 0.007 at 2000 cd/m2, so a peak close to either makes a target uncertain by that much.
template <class T>
[[nodiscard]] T hlg_system_gamma(const Luminance<T>& peak) {
  const bool basic = peak.cdm2 >= 400.0 && peak.cdm2 <= 2000.0;
  return basic ? hlg_system_gamma_basic(peak) : hlg_system_gamma_extended(peak);
}
/// Factor on gamma for the luminance of the surround: 0.98^log2(L_S / 5); 1 at the reference 5 cd/m2 (BT.2390
/// section 6.2). L_S > 0.
template <class T>
[[nodiscard]] T hlg_surround_factor(const Luminance<T>& surround) {
  using std::exp, std::log;
  return exp(std::log(0.98) * (log(surround.cdm2 / 5.0) / std::log(2.0)));
}

/// A display as HLG sees it. 0 <= black < peak, gamma > 0.
template <class T = double>
struct HlgDisplay {
  Luminance<T> peak;   ///< L_W: white at E' = 1
  Luminance<T> black;  ///< L_B: at E' = 0
  T system_gamma{};    ///< hlg_system_gamma(peak), times hlg_surround_factor where the room asks for it
  Bt2100Edition edition = Bt2100Edition::bt2100_2;
};

/// The display that BT.2100-3 asks for at this peak, black and surround: gamma by hlg_system_gamma and
/// hlg_surround_factor.
template <class T>
[[nodiscard]] HlgDisplay<T> hlg_display(const Luminance<T>& peak, const Luminance<T>& black,
                                        const Luminance<T>& surround = {.cdm2 = T(5.0)}) {
  return {.peak = peak, .black = black, .system_gamma = hlg_system_gamma(peak) * hlg_surround_factor(surround)};
}

/// Black lift beta = sqrt(3 (L_B / L_W)^(1 / gamma)) of BT.2100-2 and -3. Its slope is infinite at L_B = 0, given as 0.
template <class T>
[[nodiscard]] Signal<T> hlg_black_lift(const HlgDisplay<T>& display) {
  const T ratio = detail::power_from_zero(T(display.black.cdm2 / display.peak.cdm2), T(1.0 / display.system_gamma));
  return {.value = detail::root_from_zero(T(3.0 * ratio))};
}

namespace detail {
/// L_W from BT.2100-2 on; L_W - L_B in BT.2100-1, which adds L_B to the light afterwards.
template <class T>
T hlg_alpha(const HlgDisplay<T>& d) {
  return d.edition == Bt2100Edition::bt2100_1 ? T(d.peak.cdm2 - d.black.cdm2) : d.peak.cdm2;
}
template <class T>
T hlg_added_light(const HlgDisplay<T>& d) {
  return d.edition == Bt2100Edition::bt2100_1 ? d.black.cdm2 : T(0.0);
}
template <class T>
T hlg_luminance(const T& r, const T& g, const T& b) {
  return hlg::red * r + hlg::green * g + hlg::blue * b;
}
}  // namespace detail

/// OOTF: F = alpha Y^(gamma-1) E with Y = 0.2627 R + 0.6780 G + 0.0593 B; BT.2100-1 adds L_B.
/// in      scene light of BT.2100 primaries, nominally [0, 1]. Y <= 0 gives no light (but the added L_B)
/// out     cd/m2; white of 1, 1, 1 is L_W
template <class S, class D>
[[nodiscard]] AbsoluteRgb<Mixed<S, D>> hlg_ootf(const RelativeRgb<S>& scene, const HlgDisplay<D>& display) {
  using R = Mixed<S, D>;
  const S y = detail::hlg_luminance(scene.r, scene.g, scene.b);
  const R k = detail::hlg_alpha(display) * detail::power_from_zero(y, D(display.system_gamma - 1.0));
  const D added = detail::hlg_added_light(display);
  return {.r = k * scene.r + added, .g = k * scene.g + added, .b = k * scene.b + added};
}
/// exact   undoes the OOTF within 1e-9 relative where Y > 0
template <class S, class D>
[[nodiscard]] RelativeRgb<Mixed<S, D>> hlg_inverse_ootf(const AbsoluteRgb<S>& light, const HlgDisplay<D>& display) {
  using R = Mixed<S, D>;
  const D added = detail::hlg_added_light(display), alpha = detail::hlg_alpha(display);
  const R r = (light.r - added) / alpha, g = (light.g - added) / alpha, b = (light.b - added) / alpha;
  const R y = detail::hlg_luminance(r, g, b);
  const R k = detail::power_from_zero(y, D(1.0 / display.system_gamma - 1.0));
  return {.r = k * r, .g = k * g, .b = k * b};
}

/// EOTF: light a reference display of this peak, black and gamma shows.
/// in      E' nominally [0, 1]. BT.2100-2 on: max(0, (1 - beta) E' + beta) is decoded, so signals down to
///         -beta / (1 - beta) still give light below L_B (note 5h asks for that); above 1 the formula goes on.
///         BT.2100-1: the decoded signal itself, negative ones as 0
/// out     cd/m2 of BT.2100 primaries; all three signals are needed, only greys separate
/// exact   hlg_inverse_eotf undoes it within 1e-9 relative for E' >= 1e-3 (below, BT.2100-1 loses digits to L_B)
template <class S, class D>
[[nodiscard]] AbsoluteRgb<Mixed<S, D>> hlg_eotf(const SignalRgb<S>& signal, const HlgDisplay<D>& display) {
  using R = Mixed<S, D>;
  const bool lifted = display.edition == Bt2100Edition::bt2100_2;
  const D beta = lifted ? hlg_black_lift(display).value : D(0.0);
  const auto decode = [&beta](const S& e) {
    const R x = (1.0 - beta) * e + beta;
    return x <= 0.0 ? R(0.0) : hlg_inverse_oetf(Signal<R>{.value = x}).value;
  };
  return hlg_ootf(RelativeRgb<R>{.r = decode(signal.r), .g = decode(signal.g), .b = decode(signal.b)}, display);
}
template <class S, class D>
[[nodiscard]] SignalRgb<Mixed<S, D>> hlg_inverse_eotf(const AbsoluteRgb<S>& light, const HlgDisplay<D>& display) {
  using R = Mixed<S, D>;
  const bool lifted = display.edition == Bt2100Edition::bt2100_2;
  const D beta = lifted ? hlg_black_lift(display).value : D(0.0);
  const SignalRgb<R> e = hlg_oetf(hlg_inverse_ootf(light, display));
  const auto unlift = [&beta](const R& x) { return R((x - beta) / (1.0 - beta)); };
  return {.r = unlift(e.r), .g = unlift(e.g), .b = unlift(e.b)};
}

/// Luminance of a grey: R' = G' = B' = signal.
template <class S, class D>
[[nodiscard]] Luminance<Mixed<S, D>> hlg_eotf_grey(const Signal<S>& signal, const HlgDisplay<D>& display) {
  return {.cdm2 = hlg_eotf(SignalRgb<S>{.r = signal.value, .g = signal.value, .b = signal.value}, display).g};
}
template <class S, class D>
[[nodiscard]] Signal<Mixed<S, D>> hlg_inverse_eotf_grey(const Luminance<S>& light, const HlgDisplay<D>& display) {
  return {.value = hlg_inverse_eotf(AbsoluteRgb<S>{.r = light.cdm2, .g = light.cdm2, .b = light.cdm2}, display).g};
}

}  // namespace provenit::colour
