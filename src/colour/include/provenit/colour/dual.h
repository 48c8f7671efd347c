#pragma once
// Forward-mode derivatives: a value and its slopes by N independent variables. For tests and fits; findings use the
// uncertainty scalar, whose derivatives are sparse and named.
#include <array>
#include <cmath>
#include <compare>
#include <cstddef>

#include "provenit/colour/scalar.h"

namespace provenit::colour {

/// Arithmetic follows the chain rule exactly. Comparisons, == included, look at the value alone.
template <std::size_t N>
struct Dual {
  double value = 0;
  std::array<double, N> slope{};

  constexpr Dual() = default;
  constexpr explicit(false) Dual(double v) : value(v) {}  // a constant has no slope, so nothing is lost
  constexpr Dual(double v, const std::array<double, N>& s) : value(v), slope(s) {}

  /// The independent variable number `index` (0 .. N-1) at this value.
  [[nodiscard]] static constexpr Dual variable(double v, std::size_t index) {
    Dual x(v);
    x.slope.at(index) = 1;
    return x;
  }

  friend constexpr bool operator==(const Dual& a, const Dual& b) { return a.value == b.value; }
  friend constexpr std::partial_ordering operator<=>(const Dual& a, const Dual& b) { return a.value <=> b.value; }

  friend constexpr Dual operator+(const Dual& a, const Dual& b) { return chain(a.value + b.value, a, 1, b, 1); }
  friend constexpr Dual operator-(const Dual& a, const Dual& b) { return chain(a.value - b.value, a, 1, b, -1); }
  friend constexpr Dual operator-(const Dual& a) { return chain(-a.value, a, -1); }
  friend constexpr Dual operator*(const Dual& a, const Dual& b) {
    return chain(a.value * b.value, a, b.value, b, a.value);
  }
  friend constexpr Dual operator/(const Dual& a, const Dual& b) {
    const double q = a.value / b.value;
    return chain(q, a, 1 / b.value, b, -q / b.value);
  }
  constexpr Dual& operator+=(const Dual& b) { return *this = *this + b; }
  constexpr Dual& operator-=(const Dual& b) { return *this = *this - b; }
  constexpr Dual& operator*=(const Dual& b) { return *this = *this * b; }
  constexpr Dual& operator/=(const Dual& b) { return *this = *this / b; }

  friend Dual exp(const Dual& a) { return chain(std::exp(a.value), a, std::exp(a.value)); }
  friend Dual log(const Dual& a) { return chain(std::log(a.value), a, 1 / a.value); }
  friend Dual sqrt(const Dual& a) { return chain(std::sqrt(a.value), a, 0.5 / std::sqrt(a.value)); }
  friend Dual sin(const Dual& a) { return chain(std::sin(a.value), a, std::cos(a.value)); }
  friend Dual cos(const Dual& a) { return chain(std::cos(a.value), a, -std::sin(a.value)); }
  friend Dual fabs(const Dual& a) { return a.value < 0 ? -a : a; }
  friend Dual pow(const Dual& a, double p) {
    return chain(std::pow(a.value, p), a, p == 0 ? 0 : p * std::pow(a.value, p - 1));
  }
  friend Dual pow(const Dual& a, const Dual& p) {
    const double v = std::pow(a.value, p.value);
    const double by_base = p.value == 0 ? 0 : p.value * std::pow(a.value, p.value - 1);
    const double by_exponent = v == 0 ? 0 : v * std::log(a.value);
    return chain(v, a, by_base, p, by_exponent);
  }
  friend Dual pow(double a, const Dual& p) { return pow(Dual(a), p); }
  friend Dual atan2(const Dual& y, const Dual& x) {
    const double r2 = x.value * x.value + y.value * y.value;
    return chain(std::atan2(y.value, x.value), y, x.value / r2, x, -y.value / r2);
  }
  friend Dual hypot(const Dual& a, const Dual& b) {
    const double r = std::hypot(a.value, b.value);
    return chain(r, a, a.value / r, b, b.value / r);
  }

 private:
  static constexpr Dual chain(double v, const Dual& a, double by_a) {
    Dual result(v);
    for (std::size_t i = 0; i < N; ++i) result.slope[i] = by_a * a.slope[i];
    return result;
  }
  static constexpr Dual chain(double v, const Dual& a, double by_a, const Dual& b, double by_b) {
    Dual result(v);
    for (std::size_t i = 0; i < N; ++i) result.slope[i] = by_a * a.slope[i] + by_b * b.slope[i];
    return result;
  }
};

}  // namespace provenit::colour
