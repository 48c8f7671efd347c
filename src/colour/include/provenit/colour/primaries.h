#pragma once
// Sets of primaries and the matrices that follow from them at full precision. The four-digit matrices that the
// documents print are these, rounded; only the tests know them.
// source  SMPTE RP 177:1993 (derivation). Matrices act on column vectors, row major (matrix3.h).
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {

/// D65 as Rec. ITU-R BT.709, BT.2020, BT.2100 and the SMPTE documents print it: the target of a video display.
inline constexpr Xy<> d65_video{.x = 0.3127, .y = 0.3290};
/// D65 of CIE 15 with its five decimals (2 degree observer), 3e-5 from the video one. The tristimulus values CIE
/// tabulates, 95.047 100 108.883, differ from those of these decimals in the fifth digit.
inline constexpr Xy<> d65_cie{.x = 0.31272, .y = 0.32903};
/// D50 with four decimals, as the worked adaptation values use it (CIE 15 has 0.34567, 0.35851).
inline constexpr Xy<> d50{.x = 0.3457, .y = 0.3585};
/// White of SMPTE RP 431-2.
inline constexpr Xy<> dci_white{.x = 0.314, .y = 0.351};

template <class T = double>
struct Primaries {
  Xy<T> red, green, blue, white;
};

/// Rec. ITU-R BT.709-6; IEC 61966-2-1 (sRGB).
inline constexpr Primaries<> bt709_primaries{.red = {.x = 0.640, .y = 0.330},
                                             .green = {.x = 0.300, .y = 0.600},
                                             .blue = {.x = 0.150, .y = 0.060},
                                             .white = d65_video};
/// SMPTE ST 2113, EG 432-1: the cinema primaries with D65.
inline constexpr Primaries<> p3_d65_primaries{.red = {.x = 0.680, .y = 0.320},
                                              .green = {.x = 0.265, .y = 0.690},
                                              .blue = {.x = 0.150, .y = 0.060},
                                              .white = d65_video};
/// SMPTE RP 431-2.
inline constexpr Primaries<> p3_dci_primaries{.red = {.x = 0.680, .y = 0.320},
                                              .green = {.x = 0.265, .y = 0.690},
                                              .blue = {.x = 0.150, .y = 0.060},
                                              .white = dci_white};
/// Rec. ITU-R BT.2020-2, BT.2100-3.
inline constexpr Primaries<> bt2020_primaries{.red = {.x = 0.708, .y = 0.292},
                                              .green = {.x = 0.170, .y = 0.797},
                                              .blue = {.x = 0.131, .y = 0.046},
                                              .white = d65_video};

/// Linear R, G, B to X, Y, Z with Y = 1 for R = G = B = 1 (for AbsoluteRgb: a, a, a gives a white of a cd/m2).
/// range   every y > 0, primaries not in one line; otherwise entries are not finite
template <class T>
[[nodiscard]] constexpr Matrix3<T> rgb_to_xyz_matrix(const Primaries<T>& p) {
  const auto column = [](const Xy<T>& c) { return Vector3<T>{c.x / c.y, T(1.0), (1.0 - c.x - c.y) / c.y}; };
  const Vector3<T> r = column(p.red), g = column(p.green), b = column(p.blue);
  const Matrix3<T> m{.row = {{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}}};
  return m * diagonal(inverse(m) * column(p.white));
}

template <class T>
[[nodiscard]] constexpr Matrix3<T> xyz_to_rgb_matrix(const Primaries<T>& p) {
  return inverse(rgb_to_xyz_matrix(p));
}

/// Linear RGB of `from` to linear RGB of `to`: the same X, Y, Z, no chromatic adaptation. Sets with different whites
/// (P3-DCI and the others) keep the light as it is; put adaptation.h between them if the look should be kept.
template <class A, class B>
[[nodiscard]] constexpr Matrix3<Mixed<A, B>> rgb_to_rgb_matrix(const Primaries<A>& from, const Primaries<B>& to) {
  return xyz_to_rgb_matrix(to) * rgb_to_xyz_matrix(from);
}

// Application, kind by kind, so that absolute and relative light cannot be mixed up. Nothing is clipped.

template <class M, class T>
[[nodiscard]] AbsoluteXyz<Mixed<M, T>> xyz_from_rgb(const AbsoluteRgb<T>& c, const Matrix3<M>& rgb_to_xyz) {
  const auto v = rgb_to_xyz * Vector3<T>{c.r, c.g, c.b};
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}
template <class M, class T>
[[nodiscard]] RelativeXyz<Mixed<M, T>> xyz_from_rgb(const RelativeRgb<T>& c, const Matrix3<M>& rgb_to_xyz) {
  const auto v = rgb_to_xyz * Vector3<T>{c.r, c.g, c.b};
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}
template <class M, class T>
[[nodiscard]] AbsoluteRgb<Mixed<M, T>> rgb_from_xyz(const AbsoluteXyz<T>& c, const Matrix3<M>& xyz_to_rgb) {
  const auto v = xyz_to_rgb * Vector3<T>{c.X, c.Y, c.Z};
  return {.r = v[0], .g = v[1], .b = v[2]};
}
template <class M, class T>
[[nodiscard]] RelativeRgb<Mixed<M, T>> rgb_from_xyz(const RelativeXyz<T>& c, const Matrix3<M>& xyz_to_rgb) {
  const auto v = xyz_to_rgb * Vector3<T>{c.X, c.Y, c.Z};
  return {.r = v[0], .g = v[1], .b = v[2]};
}
template <class M, class T>
[[nodiscard]] AbsoluteRgb<Mixed<M, T>> rgb_from_rgb(const AbsoluteRgb<T>& c, const Matrix3<M>& rgb_to_rgb) {
  const auto v = rgb_to_rgb * Vector3<T>{c.r, c.g, c.b};
  return {.r = v[0], .g = v[1], .b = v[2]};
}
template <class M, class T>
[[nodiscard]] RelativeRgb<Mixed<M, T>> rgb_from_rgb(const RelativeRgb<T>& c, const Matrix3<M>& rgb_to_rgb) {
  const auto v = rgb_to_rgb * Vector3<T>{c.r, c.g, c.b};
  return {.r = v[0], .g = v[1], .b = v[2]};
}

}  // namespace provenit::colour
