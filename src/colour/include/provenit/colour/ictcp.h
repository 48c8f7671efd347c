#pragma once
// ICtCp: intensity and two colour differences of BT.2020 light.
// source  Rec. ITU-R BT.2100-3 (ICtCp of the PQ and HLG systems); Rec. ITU-R BT.2124-0 (I, T, P)
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/transfer_hlg.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::colour {

namespace detail {

constexpr Matrix3<> per_4096(Matrix3<> m) {
  for (auto& row : m.row)
    for (double& x : row) x /= 4096;
  return m;
}
inline constexpr Matrix3<> lms_from_rgb = per_4096({.row = {{{1688, 2146, 262}, {683, 2951, 462}, {99, 309, 3688}}}});
inline constexpr Matrix3<> rgb_from_lms = inverse(lms_from_rgb);
inline constexpr Matrix3<> ictcp_from_lms_pq =
    per_4096({.row = {{{2048, 2048, 0}, {6610, -13613, 7003}, {17933, -17390, -543}}}});
inline constexpr Matrix3<> ictcp_from_lms_hlg =
    per_4096({.row = {{{2048, 2048, 0}, {3625, -7465, 3840}, {9500, -9212, -288}}}});
inline constexpr Matrix3<> lms_from_ictcp_pq = inverse(ictcp_from_lms_pq);
inline constexpr Matrix3<> lms_from_ictcp_hlg = inverse(ictcp_from_lms_hlg);

}  // namespace detail

/// ICtCp of absolute BT.2020 light, PQ form.
/// in      cd/m2 as BT.2100 counts it. Colours outside BT.2020 may have a negative cone signal (L, M or S), which
///         counts as 0; no colour with R, G, B >= 0 has one
/// out     I in [0, 1] for light up to 10 000 cd/m2; greys have Ct = Cp = 0
/// exact   pq_rgb_from_ictcp undoes it within 1e-9 of the largest channel where L, M, S >= 0
/// slope   infinite where a cone signal is 0, given as 0 there (see pq_inverse_eotf)
template <class T>
[[nodiscard]] Ictcp<T> ictcp_from_pq_rgb(const AbsoluteRgb<T>& c) {
  const auto lms = detail::lms_from_rgb * Vector3<T>{c.r, c.g, c.b};
  const SignalRgb<T> e = pq_inverse_eotf(AbsoluteRgb<T>{.r = lms[0], .g = lms[1], .b = lms[2]});
  const auto v = detail::ictcp_from_lms_pq * Vector3<T>{e.r, e.g, e.b};
  return {.i = v[0], .ct = v[1], .cp = v[2]};
}
/// Cone signals outside [0, 1] are clamped as pq_eotf does; R, G, B may come out negative (colours outside BT.2020).
template <class T>
[[nodiscard]] AbsoluteRgb<T> pq_rgb_from_ictcp(const Ictcp<T>& c) {
  const auto e = detail::lms_from_ictcp_pq * Vector3<T>{c.i, c.ct, c.cp};
  const AbsoluteRgb<T> lms = pq_eotf(SignalRgb<T>{.r = e[0], .g = e[1], .b = e[2]});
  const auto v = detail::rgb_from_lms * Vector3<T>{lms.r, lms.g, lms.b};
  return {.r = v[0], .g = v[1], .b = v[2]};
}

/// ICtCp of BT.2020 scene light, HLG form.
/// in      scene light, nominally [0, 1]
/// edition BT.2100-1 used the PQ form's rows for Ct and Cp; from BT.2100-2 on HLG has its own
/// exact   hlg_rgb_from_ictcp undoes it within 1e-9 of the largest channel
template <class T>
[[nodiscard]] Ictcp<T> ictcp_from_hlg_rgb(const RelativeRgb<T>& scene,
                                          Bt2100Edition edition = Bt2100Edition::bt2100_2) {
  const auto lms = detail::lms_from_rgb * Vector3<T>{scene.r, scene.g, scene.b};
  const SignalRgb<T> e = hlg_oetf(RelativeRgb<T>{.r = lms[0], .g = lms[1], .b = lms[2]});
  const bool first = edition == Bt2100Edition::bt2100_1;
  const auto v = (first ? detail::ictcp_from_lms_pq : detail::ictcp_from_lms_hlg) * Vector3<T>{e.r, e.g, e.b};
  return {.i = v[0], .ct = v[1], .cp = v[2]};
}
template <class T>
[[nodiscard]] RelativeRgb<T> hlg_rgb_from_ictcp(const Ictcp<T>& c, Bt2100Edition edition = Bt2100Edition::bt2100_2) {
  const bool first = edition == Bt2100Edition::bt2100_1;
  const auto e = (first ? detail::lms_from_ictcp_pq : detail::lms_from_ictcp_hlg) * Vector3<T>{c.i, c.ct, c.cp};
  const RelativeRgb<T> lms = hlg_inverse_oetf(SignalRgb<T>{.r = e[0], .g = e[1], .b = e[2]});
  const auto v = detail::rgb_from_lms * Vector3<T>{lms.r, lms.g, lms.b};
  return {.r = v[0], .g = v[1], .b = v[2]};
}

/// I, T, P of BT.2124: T = Ct / 2, P = Cp (PQ form).
template <class T>
[[nodiscard]] Itp<T> itp_from_ictcp(const Ictcp<T>& c) {
  return {.i = c.i, .t = 0.5 * c.ct, .p = c.cp};
}
template <class T>
[[nodiscard]] Ictcp<T> ictcp_from_itp(const Itp<T>& c) {
  return {.i = c.i, .ct = 2.0 * c.t, .cp = c.p};
}

}  // namespace provenit::colour
