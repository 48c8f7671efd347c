#pragma once
// What a scalar must offer so that the formulas of this library can be evaluated with it: double, Dual (dual.h) and the
// uncertainty scalar. Mathematical functions are found by argument-dependent lookup beside `using std::pow;`.
// Comparisons look at the value only, so a branch is chosen as for a plain number and the slope is that of the branch.
#include <cmath>
#include <concepts>
#include <type_traits>
#include <utility>

namespace provenit::colour {

/// The scalar that comes out when A and B meet: Mixed<double, Dual<2>> is Dual<2>.
template <class A, class B>
using Mixed = std::decay_t<decltype(std::declval<A>() * std::declval<B>())>;

namespace detail {

using std::atan2, std::cos, std::exp, std::fabs, std::hypot, std::log, std::pow, std::sin, std::sqrt;

template <class T>
concept HasFunctions = requires(const T& a) {
  { exp(a) } -> std::convertible_to<T>;
  { log(a) } -> std::convertible_to<T>;
  { pow(a, 2.0) } -> std::convertible_to<T>;
  { pow(a, a) } -> std::convertible_to<T>;
  { sqrt(a) } -> std::convertible_to<T>;
  { sin(a) } -> std::convertible_to<T>;
  { cos(a) } -> std::convertible_to<T>;
  { atan2(a, a) } -> std::convertible_to<T>;
  { hypot(a, a) } -> std::convertible_to<T>;
  { fabs(a) } -> std::convertible_to<T>;
};

}  // namespace detail

/// Checked by static_assert beside each scalar type of the project.
template <class T>
concept Scalar = std::constructible_from<T, double> && std::copyable<T> && detail::HasFunctions<T> &&
                 requires(const T& a, double d) {
                   { -a } -> std::convertible_to<T>;
                   { a + a } -> std::convertible_to<T>;
                   { a + d } -> std::convertible_to<T>;
                   { d + a } -> std::convertible_to<T>;
                   { a - a } -> std::convertible_to<T>;
                   { a - d } -> std::convertible_to<T>;
                   { d - a } -> std::convertible_to<T>;
                   { a* a } -> std::convertible_to<T>;
                   { a* d } -> std::convertible_to<T>;
                   { d* a } -> std::convertible_to<T>;
                   { a / a } -> std::convertible_to<T>;
                   { a / d } -> std::convertible_to<T>;
                   { d / a } -> std::convertible_to<T>;
                   { a < d } -> std::convertible_to<bool>;
                   { a <= d } -> std::convertible_to<bool>;
                   { a > d } -> std::convertible_to<bool>;
                   { a >= d } -> std::convertible_to<bool>;
                   { a < a } -> std::convertible_to<bool>;
                 };

namespace detail {

/// Zero by value; false for NaN.
template <class T>
[[nodiscard]] bool is_zero(const T& x) {
  return x <= 0.0 && x >= 0.0;
}

/// x^p for p > 0, and 0 with zero slope for x <= 0, where the slope is infinite or does not exist. NaN in, NaN out.
template <class T>
[[nodiscard]] T power_from_zero(const T& x, double p) {
  if (x <= 0.0) return T(0.0);
  return T(pow(x, p));
}

/// The same with an exponent that carries derivatives; for p < 0 as well (the callers' limit at 0 is 0).
template <class T, class P>
[[nodiscard]] Mixed<T, P> power_from_zero(const T& x, const P& p) {
  using R = Mixed<T, P>;
  if (x <= 0.0) return R(0.0);
  return R(pow(R(x), R(p)));
}

/// Square root, and 0 with zero slope at and below 0. NaN in, NaN out.
template <class T>
[[nodiscard]] T root_from_zero(const T& x) {
  if (x <= 0.0) return T(0.0);
  return T(sqrt(x));
}

/// Length of a vector. At length 0 the slope does not exist and is given as 0: use Monte Carlo there.
template <class T>
[[nodiscard]] T length(const T& a, const T& b) {
  return root_from_zero(T(a * a + b * b));
}
template <class T>
[[nodiscard]] T length(const T& a, const T& b, const T& c) {
  return root_from_zero(T(a * a + b * b + c * c));
}

}  // namespace detail
}  // namespace provenit::colour
