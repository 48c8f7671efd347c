#pragma once
// Colour differences. All are lengths or close to it: at zero difference their slope does not exist and is given as 0,
// and noise makes them positive on average. Take intervals of small differences from Monte Carlo.
// Where reference and test may carry different scalars, the result carries both (Mixed).
#include <numbers>

#include "provenit/colour/ictcp.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {

/// CIE 1976 colour difference in CIELAB: Euclidean. ISO/CIE 11664-4:2019.
template <class A, class B>
[[nodiscard]] Mixed<A, B> delta_e_76(const Lab<A>& reference, const Lab<B>& test) {
  using R = Mixed<A, B>;
  return detail::length(R(test.L - reference.L), R(test.a - reference.a), R(test.b - reference.b));
}

/// CIE 1976 colour difference in CIELUV. ISO/CIE 11664-5:2016.
template <class A, class B>
[[nodiscard]] Mixed<A, B> delta_e_uv(const Luv<A>& reference, const Luv<B>& test) {
  using R = Mixed<A, B>;
  return detail::length(R(test.L - reference.L), R(test.u - reference.u), R(test.v - reference.v));
}

/// The chroma part of it, sqrt(du*^2 + dv*^2): what EBU Tech 3320 writes as du*v*. Depends on L*.
template <class A, class B>
[[nodiscard]] Mixed<A, B> delta_uv_star(const Luv<A>& reference, const Luv<B>& test) {
  using R = Mixed<A, B>;
  return detail::length(R(test.u - reference.u), R(test.v - reference.v));
}

/// Distance in CIE 1976 u', v'.
template <class A, class B>
[[nodiscard]] Mixed<A, B> delta_uv_prime(const UvPrime<A>& reference, const UvPrime<B>& test) {
  using R = Mixed<A, B>;
  return detail::length(R(test.u - reference.u), R(test.v - reference.v));
}

/// Parametric factors of CIEDE2000.
struct Ciede2000Factors {
  double kL = 1, kC = 1, kH = 1;
};

/// CIEDE2000 colour difference.
/// in      CIELAB of both for the same white
/// note    the formula itself jumps where the hues lie 180 degrees apart, and there alone. Hues within 1e-10 rad of
///         opposite count as opposite, so that rounding does not choose the side. Derivatives hold on either side,
///         never across the jump. A colour of chroma 0 has no hue, and its hue difference is 0
/// source  ISO/CIE 11664-6:2014; Sharma, Wu, Dalal, Color Res. Appl. 30(1), 21-30, 2005 (hue rules)
template <class A, class B>
[[nodiscard]] Mixed<A, B> ciede2000(const Lab<A>& reference, const Lab<B>& test, const Ciede2000Factors& factors = {});

/// Difference of BT.2124 with its parts. 1 is about the smallest visible difference in the most critical adaptation.
template <class T = double>
struct ItpDifference {
  T total{};           ///< 720 sqrt(di^2 + dt^2 + dp^2)
  T luminance{};       ///< between the reference and itself scaled to the luminance of the test colour
  T chromaticity{};    ///< between the reference and the test colour scaled to the luminance of the reference
  T di{}, dt{}, dp{};  ///< test minus reference, not multiplied by 720
};

/// Delta E ITP of two points in ICtCp (PQ form).
/// source  Rec. ITU-R BT.2124-0 (01/2019)
template <class A, class B>
[[nodiscard]] Mixed<A, B> delta_e_itp(const Ictcp<A>& reference, const Ictcp<B>& test) {
  using R = Mixed<A, B>;
  const Itp<A> a = itp_from_ictcp(reference);
  const Itp<B> b = itp_from_ictcp(test);
  return 720.0 * detail::length(R(b.i - a.i), R(b.t - a.t), R(b.p - a.p));
}

/// Delta E ITP of two colours of absolute BT.2020 light, whole and split into the part that luminance alone makes and
/// the part that chromaticity alone makes. The parts do not add up: near grey total^2 is close to the sum of squares.
/// in      cd/m2, both on the same absolute scale
/// note    a colour with luminance <= 0 has no chromaticity: the whole difference then counts as luminance
/// slope   as ictcp_from_pq_rgb and as any length
template <class A, class B>
[[nodiscard]] ItpDifference<Mixed<A, B>> itp_difference(const AbsoluteRgb<A>& reference, const AbsoluteRgb<B>& test);

/// I, T, P of tristimulus values (through the BT.2020 matrix).
template <class T>
[[nodiscard]] Itp<T> itp_from_xyz(const AbsoluteXyz<T>& c) {
  constexpr Matrix3<> m = xyz_to_rgb_matrix(bt2020_primaries);
  return itp_from_ictcp(ictcp_from_pq_rgb(rgb_from_xyz(c, m)));
}

/// The same from tristimulus values (through the BT.2020 matrix).
template <class A, class B>
[[nodiscard]] ItpDifference<Mixed<A, B>> itp_difference(const AbsoluteXyz<A>& reference, const AbsoluteXyz<B>& test) {
  constexpr Matrix3<> m = xyz_to_rgb_matrix(bt2020_primaries);
  return itp_difference(rgb_from_xyz(reference, m), rgb_from_xyz(test, m));
}

// Definitions of the longer ones ---------------------------------------------------------------------------------

namespace detail {

/// C^7 / (C^7 + 25^7), square root of it.
template <class T>
T chroma_term(const T& chroma) {
  const T c7 = power_from_zero(chroma, 7.0);
  return root_from_zero(T(c7 / (c7 + 6103515625.0)));
}

/// Hue in [0, 2 pi); 0 where there is no chroma.
template <class T>
T hue(const T& a, const T& b) {
  if (is_zero(a) && is_zero(b)) return T(0.0);
  const T h = atan2(b, a);
  return h < 0.0 ? T(h + 2.0 * std::numbers::pi) : h;
}

/// What CIEDE2000 takes from two hues: their difference (signed) and their mean.
template <class T>
struct HuePair {
  T difference, mean;
};
template <class T>
HuePair<T> hue_pair(const T& h1, const T& h2) {
  constexpr double pi = std::numbers::pi, opposite = pi + 1e-10;
  const T d = h2 - h1, sum = h1 + h2;
  if (d <= opposite && d >= -opposite) return {.difference = d, .mean = 0.5 * sum};
  const T mean = sum < 2 * pi ? T(0.5 * sum + pi) : T(0.5 * sum - pi);
  return {.difference = d > 0.0 ? T(d - 2 * pi) : T(d + 2 * pi), .mean = mean};
}

/// Hue weighting T of the formula; its constants are degrees.
template <class T>
T hue_weight(const T& h) {
  constexpr double degree = std::numbers::pi / 180;
  return 1.0 - 0.17 * cos(h - 30 * degree) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6 * degree) -
         0.20 * cos(4.0 * h - 63 * degree);
}

/// Rotation R_T for the blue region.
template <class T>
T hue_rotation(const T& h, const T& chroma) {
  constexpr double degree = std::numbers::pi / 180;
  const T x = (h / degree - 275.0) / 25.0;
  const T angle = 60 * degree * exp(-(x * x));
  return -2.0 * (sin(angle) * chroma_term(chroma));
}

}  // namespace detail

template <class A, class B>
Mixed<A, B> ciede2000(const Lab<A>& reference, const Lab<B>& test, const Ciede2000Factors& factors) {
  using R = Mixed<A, B>;
  const R L1 = R(reference.L), b1 = R(reference.b), L2 = R(test.L), b2 = R(test.b);
  const R chroma_ab = 0.5 * (detail::length(R(reference.a), b1) + detail::length(R(test.a), b2));
  const R stretch = 1.5 - 0.5 * detail::chroma_term(chroma_ab);
  const R a1 = stretch * reference.a, a2 = stretch * test.a;
  const R c1 = detail::length(a1, b1), c2 = detail::length(a2, b2);
  const R h1 = detail::hue(a1, b1), h2 = detail::hue(a2, b2);

  const bool no_hue = detail::is_zero(c1) || detail::is_zero(c2);
  const detail::HuePair<R> hue =
      no_hue ? detail::HuePair<R>{.difference = R(0.0), .mean = h1 + h2} : detail::hue_pair(h1, h2);
  const R mean_L = 0.5 * (L1 + L2), mean_c = 0.5 * (c1 + c2);
  const R from_50 = (mean_L - 50.0) * (mean_L - 50.0);

  using std::sin, std::sqrt;
  const R s_L = 1.0 + 0.015 * from_50 / sqrt(20.0 + from_50);
  const R s_C = 1.0 + 0.045 * mean_c;
  const R s_H = 1.0 + 0.015 * (mean_c * detail::hue_weight(hue.mean));
  const R dL = (L2 - L1) / (factors.kL * s_L);
  const R dC = (c2 - c1) / (factors.kC * s_C);
  const R dH = 2.0 * (detail::root_from_zero(R(c1 * c2)) * sin(0.5 * hue.difference)) / (factors.kH * s_H);
  const R rotation = detail::hue_rotation(hue.mean, mean_c);
  return detail::root_from_zero(R(dL * dL + dC * dC + dH * dH + rotation * (dC * dH)));
}

namespace detail {

inline constexpr Matrix3<> bt2020_to_xyz = rgb_to_xyz_matrix(bt2020_primaries);

template <class T>
T bt2020_luminance(const AbsoluteRgb<T>& c) {
  return bt2020_to_xyz(1, 0) * c.r + bt2020_to_xyz(1, 1) * c.g + bt2020_to_xyz(1, 2) * c.b;
}
template <class K, class T>
AbsoluteRgb<Mixed<K, T>> scaled(const AbsoluteRgb<T>& c, const K& k) {
  return {.r = k * c.r, .g = k * c.g, .b = k * c.b};
}

}  // namespace detail

template <class A, class B>
ItpDifference<Mixed<A, B>> itp_difference(const AbsoluteRgb<A>& reference, const AbsoluteRgb<B>& test) {
  using R = Mixed<A, B>;
  const Ictcp<A> a = ictcp_from_pq_rgb(reference);
  const Ictcp<B> b = ictcp_from_pq_rgb(test);
  const Itp<A> from = itp_from_ictcp(a);
  const Itp<B> to = itp_from_ictcp(b);
  ItpDifference<R> d{.total = delta_e_itp(a, b), .di = to.i - from.i, .dt = to.t - from.t, .dp = to.p - from.p};

  const A reference_luminance = detail::bt2020_luminance(reference);
  const B test_luminance = detail::bt2020_luminance(test);
  if (reference_luminance <= 0.0 || test_luminance <= 0.0) {
    d.luminance = d.total;
    d.chromaticity = R(0.0);
    return d;
  }
  const R up = test_luminance / reference_luminance, down = reference_luminance / test_luminance;
  d.luminance = delta_e_itp(a, ictcp_from_pq_rgb(detail::scaled(reference, up)));
  d.chromaticity = delta_e_itp(a, ictcp_from_pq_rgb(detail::scaled(test, down)));
  return d;
}

}  // namespace provenit::colour
