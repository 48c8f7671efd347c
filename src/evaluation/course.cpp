#include <cmath>
#include <utility>

#include "course_internal.h"

namespace provenit::evaluation {
namespace {

/// Slope at the first of three points, from the parabola through them.
double end_slope(double h0, double h1, double d0, double d1) {
  const double slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
  if (slope * d0 <= 0) return 0;
  return d0 * d1 <= 0 && std::fabs(slope) > 3 * std::fabs(d0) ? 3 * d0 : slope;
}

}  // namespace

Course::Course(std::vector<double> at, std::vector<double> value) : at_(std::move(at)), value_(std::move(value)) {
  const std::size_t n = at_.size();
  const auto h = [&](std::size_t i) { return at_[i + 1] - at_[i]; };
  const auto d = [&](std::size_t i) { return (value_[i + 1] - value_[i]) / h(i); };
  slope_.assign(n, d(0));
  if (n == 2) return;
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double before = d(i - 1), after = d(i), wb = h(i - 1) + 2 * h(i), wa = 2 * h(i - 1) + h(i);
    slope_[i] = before * after > 0 ? (wa + wb) / (wb / before + wa / after) : 0;
  }
  slope_.front() = end_slope(h(0), h(1), d(0), d(1));
  slope_.back() = end_slope(h(n - 2), h(n - 3), d(n - 2), d(n - 3));
}

double Course::value_at(std::size_t i, double t) const {
  const double h = at_[i + 1] - at_[i], rest = 1 - t;
  return value_[i] * (1 + 2 * t) * rest * rest + slope_[i] * h * t * rest * rest + value_[i + 1] * t * t * (3 - 2 * t) -
         slope_[i + 1] * h * t * t * rest;
}

double Course::crossing(std::size_t i, double level) const {
  const bool falls = value_[i] > value_[i + 1];
  double low = 0, high = 1;
  for (int k = 0; k < 50; ++k) {
    const double middle = 0.5 * (low + high);
    ((value_at(i, middle) > level) == falls ? low : high) = middle;
  }
  return at_[i] + 0.5 * (low + high) * (at_[i + 1] - at_[i]);
}

}  // namespace provenit::evaluation
