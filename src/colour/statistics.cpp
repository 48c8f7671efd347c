#include "provenit/colour/statistics.h"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>
#include <numbers>

namespace provenit::colour {
namespace {

// Above this, t and F differ from their limits by less than 1e-6 relative.
constexpr double kAsInfinite = 2e6;

}  // namespace

double normal_factor(double coverage) {
  return boost::math::quantile(boost::math::normal(), 0.5 + coverage / 2);
}

double student_factor(double degrees_of_freedom, double coverage) {
  if (!(degrees_of_freedom < kAsInfinite)) return normal_factor(coverage);
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), 0.5 + coverage / 2);
}

double rounded_reach(double half_width, double u, double coverage) {
  if (!(u > 0)) return coverage * half_width;
  if (!(half_width > 1e-6 * u)) return normal_factor(coverage) * u;
  // The integral of the normal distribution function from -infinity to z.
  const auto below = [](double z) {
    return z * normal_probability(z) + std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi);
  };
  const auto held = [&](double h) {
    return u / half_width * (below((h + half_width) / u) - below((h - half_width) / u)) - 1;
  };
  double low = 0, high = half_width + normal_factor(coverage) * u;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (held(middle) < coverage ? low : high) = middle;
  }
  return high;
}

double normal_probability(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

double chi_square_quantile(double probability, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::chi_squared(degrees_of_freedom), probability);
}

double scaled_f_quantile(double probability, double numerator, double denominator) {
  if (!(denominator < kAsInfinite)) return chi_square_quantile(probability, numerator);
  return numerator * boost::math::quantile(boost::math::fisher_f(numerator, denominator), probability);
}

double mean(std::span<const double> values) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  double sum = 0;
  for (double v : values) sum += v;
  return sum / static_cast<double>(values.size());
}

SumOfSquares sum_of_squares(std::span<const double> values) {
  if (values.size() < 2) return {};
  const double centre = mean(values);
  double sum = 0;
  for (double v : values) sum += (v - centre) * (v - centre);
  return {sum, static_cast<double>(values.size() - 1)};
}

double standard_deviation(std::span<const double> values) {
  return std::sqrt(sum_of_squares(values).variance());
}

double quantile(std::span<const double> ascending, double p) {
  if (ascending.empty()) return std::numeric_limits<double>::quiet_NaN();
  const double at = std::clamp(p, 0.0, 1.0) * static_cast<double>(ascending.size() - 1);
  const auto below = static_cast<std::size_t>(at);
  if (below + 1 >= ascending.size()) return ascending.back();
  return ascending[below] + (at - static_cast<double>(below)) * (ascending[below + 1] - ascending[below]);
}

Interval symmetric_interval(std::span<const double> ascending, double coverage) {
  return {quantile(ascending, (1 - coverage) / 2), quantile(ascending, (1 + coverage) / 2)};
}

Interval shortest_interval(std::span<const double> ascending, double coverage) {
  const std::size_t n = ascending.size();
  const auto held = static_cast<std::size_t>(std::llround(coverage * static_cast<double>(n)));
  const std::size_t span = std::min(std::max<std::size_t>(held, 1), n - 1);
  std::size_t best = 0;
  for (std::size_t i = 1; i + span < n; ++i)
    if (ascending[i + span] - ascending[i] < ascending[best + span] - ascending[best]) best = i;
  return {ascending[best], ascending[best + span]};
}

}  // namespace provenit::colour
