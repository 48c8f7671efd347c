#pragma once
// 3 x 3 matrices of any scalar. Own type and not Eigen's, because the scalar may be one Eigen knows nothing of and
// every file that sees a colour matrix would pay for Eigen's headers.
#include <array>
#include <cstddef>

#include "provenit/colour/scalar.h"

namespace provenit::colour {

template <class T = double>
using Vector3 = std::array<T, 3>;

/// Row major: row[i][j] is row i, column j. Acts on column vectors.
template <class T = double>
struct Matrix3 {
  std::array<std::array<T, 3>, 3> row{};
  [[nodiscard]] constexpr const T& operator()(std::size_t i, std::size_t j) const { return row[i][j]; }
  [[nodiscard]] constexpr T& operator()(std::size_t i, std::size_t j) { return row[i][j]; }
};

/// M v.
template <class A, class B>
[[nodiscard]] constexpr Vector3<Mixed<A, B>> operator*(const Matrix3<A>& m, const Vector3<B>& v) {
  Vector3<Mixed<A, B>> result{};
  for (std::size_t i = 0; i < 3; ++i) result[i] = m(i, 0) * v[0] + m(i, 1) * v[1] + m(i, 2) * v[2];
  return result;
}

/// A B: first B, then A.
template <class A, class B>
[[nodiscard]] constexpr Matrix3<Mixed<A, B>> operator*(const Matrix3<A>& a, const Matrix3<B>& b) {
  Matrix3<Mixed<A, B>> result;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) result(i, j) = a(i, 0) * b(0, j) + a(i, 1) * b(1, j) + a(i, 2) * b(2, j);
  return result;
}

template <class T>
[[nodiscard]] constexpr Matrix3<T> diagonal(const Vector3<T>& d) {
  return Matrix3<T>{.row = {{{d[0], T(0.0), T(0.0)}, {T(0.0), d[1], T(0.0)}, {T(0.0), T(0.0), d[2]}}}};
}

/// Inverse by cofactors. A singular matrix gives entries that are not finite.
template <class T>
[[nodiscard]] constexpr Matrix3<T> inverse(const Matrix3<T>& m) {
  const auto cofactor = [&m](std::size_t i, std::size_t j) {
    const std::size_t a = (i + 1) % 3, b = (i + 2) % 3, c = (j + 1) % 3, d = (j + 2) % 3;
    return T(m(a, c) * m(b, d) - m(a, d) * m(b, c));
  };
  const T determinant = m(0, 0) * cofactor(0, 0) + m(0, 1) * cofactor(0, 1) + m(0, 2) * cofactor(0, 2);
  Matrix3<T> result;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) result(j, i) = cofactor(i, j) / determinant;
  return result;
}

}  // namespace provenit::colour
