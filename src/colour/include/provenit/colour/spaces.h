#pragma once
// CIE colorimetry: XYZ and chromaticity, CIELAB, CIELUV, with inverses. All functions are smooth where they are
// defined; none clips, so negative tristimulus values (dark subtraction) pass through.
// source  ISO/CIE 11664-3 (XYZ, x y), 11664-4:2019 (CIELAB), 11664-5:2016 (CIELUV, u' v'); CIE 15 (1960 u, v)
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"

namespace provenit::colour {

namespace detail {
template <class T>
Xy<T> xy_of(const T& X, const T& Y, const T& Z) {
  const T sum = X + Y + Z;
  return {.x = X / sum, .y = Y / sum};
}
template <class T>
UvPrime<T> uv_prime_of(const T& X, const T& Y, const T& Z) {
  const T d = X + 15.0 * Y + 3.0 * Z;
  return {.u = 4.0 * X / d, .v = 9.0 * Y / d};
}
}  // namespace detail

/// Chromaticity x = X/(X+Y+Z), y = Y/(X+Y+Z).
/// errors  X+Y+Z = 0 gives NaN: black has no chromaticity
template <class T>
[[nodiscard]] Xy<T> xy_from_xyz(const AbsoluteXyz<T>& c) {
  return detail::xy_of(c.X, c.Y, c.Z);
}
template <class T>
[[nodiscard]] Xy<T> xy_from_xyz(const RelativeXyz<T>& c) {
  return detail::xy_of(c.X, c.Y, c.Z);
}

/// Tristimulus values of a chromaticity at a luminance (cd/m2), or at a Y relative to white.
/// range   y > 0; y = 0 gives infinities or NaN
template <class C, class T>
[[nodiscard]] AbsoluteXyz<Mixed<C, T>> xyz_from_xy(const Xy<C>& c, const Luminance<T>& luminance) {
  const auto k = luminance.cdm2 / c.y;
  return {.X = k * c.x, .Y = Mixed<C, T>(luminance.cdm2), .Z = k * (1.0 - c.x - c.y)};
}
template <class C, class T>
[[nodiscard]] RelativeXyz<Mixed<C, T>> xyz_from_xy(const Xy<C>& c, const Relative<T>& y) {
  const auto k = y.value / c.y;
  return {.X = k * c.x, .Y = Mixed<C, T>(y.value), .Z = k * (1.0 - c.x - c.y)};
}
/// The white of this chromaticity with Y = 1.
template <class T>
[[nodiscard]] RelativeXyz<T> white_xyz(const Xy<T>& c) {
  return xyz_from_xy(c, Relative<T>{.value = T(1.0)});
}

/// u' = 4x/(-2x+12y+3), v' = 9y/(-2x+12y+3).
template <class T>
[[nodiscard]] UvPrime<T> uv_prime_from_xy(const Xy<T>& c) {
  const T d = 3.0 - 2.0 * c.x + 12.0 * c.y;
  return {.u = 4.0 * c.x / d, .v = 9.0 * c.y / d};
}
/// x = 9u'/(6u'-16v'+12), y = 4v'/(6u'-16v'+12).
template <class T>
[[nodiscard]] Xy<T> xy_from_uv_prime(const UvPrime<T>& c) {
  const T d = 6.0 * c.u - 16.0 * c.v + 12.0;
  return {.x = 9.0 * c.u / d, .y = 4.0 * c.v / d};
}
/// u' = 4X/(X+15Y+3Z), v' = 9Y/(X+15Y+3Z). Black gives NaN.
template <class T>
[[nodiscard]] UvPrime<T> uv_prime_from_xyz(const AbsoluteXyz<T>& c) {
  return detail::uv_prime_of(c.X, c.Y, c.Z);
}
template <class T>
[[nodiscard]] UvPrime<T> uv_prime_from_xyz(const RelativeXyz<T>& c) {
  return detail::uv_prime_of(c.X, c.Y, c.Z);
}

/// CIE 1960 u = u', v = 2/3 v'.
template <class T>
[[nodiscard]] Uv1960<T> uv1960_from_uv_prime(const UvPrime<T>& c) {
  return {.u = c.u, .v = c.v * 2.0 / 3.0};
}
template <class T>
[[nodiscard]] UvPrime<T> uv_prime_from_uv1960(const Uv1960<T>& c) {
  return {.u = c.u, .v = c.v * 1.5};
}
template <class T>
[[nodiscard]] Uv1960<T> uv1960_from_xy(const Xy<T>& c) {
  return uv1960_from_uv_prime(uv_prime_from_xy(c));
}
template <class T>
[[nodiscard]] Xy<T> xy_from_uv1960(const Uv1960<T>& c) {
  return xy_from_uv_prime(uv_prime_from_uv1960(c));
}

namespace detail {

inline constexpr double lab_break = 24.0 / 116.0;  // of f; its cube is the break of t

/// f(t) of CIELAB: the cube root above (24/116)^3, a straight line below, 0 and negative t included.
template <class T>
T lab_f(const T& t) {
  if (t > lab_break * lab_break * lab_break) return T(pow(t, 1.0 / 3.0));
  return T(841.0 / 108.0 * t + 16.0 / 116.0);
}
template <class T>
T lab_f_inverse(const T& f) {
  if (f > lab_break) return T(f * f * f);
  return T((f - 16.0 / 116.0) * (108.0 / 841.0));
}

template <class T, class W>
Lab<Mixed<T, W>> lab_of(const T& X, const T& Y, const T& Z, const W& Xn, const W& Yn, const W& Zn) {
  using R = Mixed<T, W>;
  const R fx = lab_f(R(X / Xn)), fy = lab_f(R(Y / Yn)), fz = lab_f(R(Z / Zn));
  return {.L = 116.0 * fy - 16.0, .a = 500.0 * (fx - fy), .b = 200.0 * (fy - fz)};
}

template <class T, class W>
Luv<Mixed<T, W>> luv_of(const T& X, const T& Y, const T& Z, const W& Xn, const W& Yn, const W& Zn) {
  using R = Mixed<T, W>;
  const R L = 116.0 * lab_f(R(Y / Yn)) - 16.0;
  const T d = X + 15.0 * Y + 3.0 * Z;
  if (is_zero(d) && is_zero(Y)) return {.L = R(0.0), .u = R(0.0), .v = R(0.0)};
  const UvPrime<T> c = uv_prime_of(X, Y, Z);
  const UvPrime<W> n = uv_prime_of(Xn, Yn, Zn);
  return {.L = L, .u = 13.0 * L * (c.u - n.u), .v = 13.0 * L * (c.v - n.v)};
}

}  // namespace detail

/// CIELAB for a stated white. Only the ratios to the white matter, so both are absolute or both relative.
/// range   white > 0 in all three; negative values follow the straight part. L* above 100 comes out for Y above the
///         white: CIELAB was not made for that, say in the finding which white was taken
/// exact   xyz_from_lab undoes it within 1e-12 relative to the white
template <class T, class W>
[[nodiscard]] Lab<Mixed<T, W>> lab_from_xyz(const AbsoluteXyz<T>& c, const AbsoluteXyz<W>& white) {
  return detail::lab_of(c.X, c.Y, c.Z, white.X, white.Y, white.Z);
}
template <class T, class W>
[[nodiscard]] Lab<Mixed<T, W>> lab_from_xyz(const RelativeXyz<T>& c, const RelativeXyz<W>& white) {
  return detail::lab_of(c.X, c.Y, c.Z, white.X, white.Y, white.Z);
}

/// CIELUV for a stated white, as lab_from_xyz. Black (X = Y = Z = 0) gives 0, 0, 0.
template <class T, class W>
[[nodiscard]] Luv<Mixed<T, W>> luv_from_xyz(const AbsoluteXyz<T>& c, const AbsoluteXyz<W>& white) {
  return detail::luv_of(c.X, c.Y, c.Z, white.X, white.Y, white.Z);
}
template <class T, class W>
[[nodiscard]] Luv<Mixed<T, W>> luv_from_xyz(const RelativeXyz<T>& c, const RelativeXyz<W>& white) {
  return detail::luv_of(c.X, c.Y, c.Z, white.X, white.Y, white.Z);
}

template <class X>
concept Xyz = requires(const X& c) {
  c.X;
  c.Y;
  c.Z;
};

/// The inverses: tristimulus values of the kind (absolute, relative) and scale of the white given.
template <template <class> class X, class T, class W>
  requires Xyz<X<W>>
[[nodiscard]] X<Mixed<T, W>> xyz_from_lab(const Lab<T>& c, const X<W>& white) {
  const T fy = (c.L + 16.0) / 116.0;
  return {.X = white.X * detail::lab_f_inverse(T(fy + c.a / 500.0)),
          .Y = white.Y * detail::lab_f_inverse(fy),
          .Z = white.Z * detail::lab_f_inverse(T(fy - c.b / 200.0))};
}
/// L* = 0 gives black whatever u*, v* say (there is no chromaticity to find).
template <template <class> class X, class T, class W>
  requires Xyz<X<W>>
[[nodiscard]] X<Mixed<T, W>> xyz_from_luv(const Luv<T>& c, const X<W>& white) {
  using R = Mixed<T, W>;
  if (detail::is_zero(c.L)) return {.X = R(0.0), .Y = R(0.0), .Z = R(0.0)};
  const UvPrime<W> n = uv_prime_from_xyz(white);
  const R u = c.u / (13.0 * c.L) + n.u, v = c.v / (13.0 * c.L) + n.v;
  const R Y = white.Y * detail::lab_f_inverse(T((c.L + 16.0) / 116.0));
  return {.X = Y * 9.0 * u / (4.0 * v), .Y = Y, .Z = Y * (12.0 - 3.0 * u - 20.0 * v) / (4.0 * v)};
}

}  // namespace provenit::colour
