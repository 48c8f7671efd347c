#pragma once
// Chromatic adaptation: what a colour seen under one white looks like under another, by scaling in a sharpened cone
// space.
// source  ICC.1 (Bradford's digits); Li, Li, Wang, Zu, Luo, Cui, Melgosa, Brill, Pointer, Color Res. Appl. 42(6), 2017
//         (CAT16); CIE 159:2004 (CAT02, kept to check older figures); Zhai, Luo, Opt. Express 26(6), 2018 (two steps)
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {

enum class AdaptationTransform { bradford, cat16, cat02 };

/// XYZ to the transform's sharpened cone space.
[[nodiscard]] constexpr Matrix3<> cone_matrix(AdaptationTransform transform) {
  switch (transform) {
    case AdaptationTransform::cat16:
      return {
          .row = {{{0.401288, 0.650173, -0.051461}, {-0.250268, 1.204414, 0.045854}, {-0.002079, 0.048952, 0.953127}}}};
    case AdaptationTransform::cat02:
      return {.row = {{{0.7328, 0.4296, -0.1624}, {-0.7036, 1.6975, 0.0061}, {0.0030, 0.0136, 0.9834}}}};
    case AdaptationTransform::bradford:
      break;
  }
  return {.row = {{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}}};
}

/// Complete adaptation from one white to another, in XYZ: maps `from` exactly to `to`.
/// in      whites of Y = 1 (white_xyz); whites whose cone signals are not all above 0 give no usable matrix
template <class A, class B>
[[nodiscard]] Matrix3<Mixed<A, B>> adaptation_matrix(AdaptationTransform transform, const RelativeXyz<A>& from,
                                                     const RelativeXyz<B>& to) {
  const Matrix3<> cone = cone_matrix(transform);
  const auto f = cone * Vector3<A>{from.X, from.Y, from.Z};
  const auto t = cone * Vector3<B>{to.X, to.Y, to.Z};
  const Vector3<Mixed<A, B>> gain{t[0] / f[0], t[1] / f[1], t[2] / f[2]};
  return inverse(cone) * (diagonal(gain) * cone);
}

/// Partial adaptation in two steps through the equal-energy white: each white is adapted to by its own degree in
/// [0, 1] (0 not at all, 1 complete; both 1 is adaptation_matrix). Defined for CAT02 and CAT16; with Bradford the
/// arithmetic is the same, but no document defines it.
template <class A, class B>
[[nodiscard]] Matrix3<Mixed<A, B>> partial_adaptation_matrix(AdaptationTransform transform, const RelativeXyz<A>& from,
                                                             double degree_from, const RelativeXyz<B>& to,
                                                             double degree_to) {
  const Matrix3<> cone = cone_matrix(transform);
  const auto e = cone * Vector3<>{1, 1, 1};
  const auto f = cone * Vector3<A>{from.X, from.Y, from.Z};
  const auto t = cone * Vector3<B>{to.X, to.Y, to.Z};
  Vector3<Mixed<A, B>> gain{};
  for (std::size_t i = 0; i < 3; ++i) {
    const A in = degree_from * (from.Y * e[i] / f[i]) + (1 - degree_from);
    const B out = degree_to * (to.Y * e[i] / t[i]) + (1 - degree_to);
    gain[i] = in / out;
  }
  return inverse(cone) * (diagonal(gain) * cone);
}

/// Viewing surround of CIECAM16: F of the degree of adaptation.
enum class AdaptationSurround { average, dim, dark };

/// Degree of adaptation D = F (1 - exp((-L_A - 42) / 92) / 3.6), clamped to [0, 1]; F = 1, 0.9, 0.8.
/// in      luminance of the adapting field, cd/m2 (often a fifth of white), >= 0
/// source  CIE 248:2022 (CIECAM16), from memory
template <class T>
[[nodiscard]] T adaptation_degree(AdaptationSurround surround, const Luminance<T>& adapting_field) {
  using std::exp;
  const double f = surround == AdaptationSurround::average ? 1.0 : surround == AdaptationSurround::dim ? 0.9 : 0.8;
  const T d = f * (1.0 - exp((-adapting_field.cdm2 - 42.0) / 92.0) / 3.6);
  if (d < 0.0) return T(0.0);
  return d > 1.0 ? T(1.0) : d;
}

template <class M, class T>
[[nodiscard]] RelativeXyz<Mixed<M, T>> adapted(const RelativeXyz<T>& c, const Matrix3<M>& adaptation) {
  const auto v = adaptation * Vector3<T>{c.X, c.Y, c.Z};
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}
template <class M, class T>
[[nodiscard]] AbsoluteXyz<Mixed<M, T>> adapted(const AbsoluteXyz<T>& c, const Matrix3<M>& adaptation) {
  const auto v = adaptation * Vector3<T>{c.X, c.Y, c.Z};
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}

}  // namespace provenit::colour
