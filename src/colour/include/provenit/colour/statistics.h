#pragma once
// The few distributions and sample statistics that uncertainty needs. Distribution functions come from Boost.Math.
#include <span>
#include <vector>

namespace provenit::colour {

/// A closed interval of values.
struct Interval {
  double lower = 0, upper = 0;
  [[nodiscard]] double width() const { return upper - lower; }
  [[nodiscard]] bool contains(double value) const { return lower <= value && value <= upper; }
};

/// Coverage probability of every finding.
inline constexpr double kCoverage = 0.95;

/// k so that a standard normal variable lies in [-k, k] with this probability (0 < coverage < 1); 1.95996 for 0.95.
[[nodiscard]] double normal_factor(double coverage = kCoverage);
/// The same for Student's t with `degrees_of_freedom` > 0 (need not be whole; infinite gives normal_factor).
/// source  JCGM 100:2008, G.3.2 and Table G.2
[[nodiscard]] double student_factor(double degrees_of_freedom, double coverage = kCoverage);
/// Half width h of the interval around 0 that holds R + N with this probability: R spread evenly over [-half_width,
/// half_width], N normal with standard deviation u, independent, both >= 0. Where R is most of it, h is well below
/// normal_factor times the standard uncertainty: 0.95 half_width without N. For 0 < coverage < 1.
/// source  JCGM 101:2008, 6.4.2 and 6.4.7, for the two distributions; their convolution is integrated by hand
[[nodiscard]] double rounded_reach(double half_width, double u, double coverage = kCoverage);
/// Standard normal distribution function.
[[nodiscard]] double normal_probability(double z);
/// Quantile of chi-square, 0 < probability < 1; 5.99146 for 0.95 with 2 degrees of freedom.
[[nodiscard]] double chi_square_quantile(double probability, double degrees_of_freedom);
/// (numerator dof) x quantile of F: what chi_square_quantile becomes when the covariance itself is only known with
/// `denominator` degrees of freedom (infinite: chi-square).
[[nodiscard]] double scaled_f_quantile(double probability, double numerator, double denominator);

/// Sum of squared deviations from the mean, with its degrees of freedom, so that groups can be pooled by adding.
struct SumOfSquares {
  double sum = 0;
  double degrees_of_freedom = 0;
  friend SumOfSquares operator+(SumOfSquares a, SumOfSquares b) {
    return {a.sum + b.sum, a.degrees_of_freedom + b.degrees_of_freedom};
  }
  /// Pooled experimental variance; 0 when there are no degrees of freedom. source  JCGM 100:2008, H.3.2, 4.2.4 note
  [[nodiscard]] double variance() const { return degrees_of_freedom > 0 ? sum / degrees_of_freedom : 0; }
};

[[nodiscard]] double mean(std::span<const double> values);                  ///< NaN for no values
[[nodiscard]] SumOfSquares sum_of_squares(std::span<const double> values);  ///< n - 1 degrees of freedom, 0 for n < 2
[[nodiscard]] double standard_deviation(std::span<const double> values);    ///< experimental (n - 1); 0 for n < 2

/// Quantile of ascending values, linear between order statistics; p in [0, 1]; NaN for no values.
[[nodiscard]] double quantile(std::span<const double> ascending, double p);
/// Interval that leaves (1 - coverage) / 2 of the sample on either side. Values ascending, at least 2.
/// source  JCGM 101:2008, 7.7.2
[[nodiscard]] Interval symmetric_interval(std::span<const double> ascending, double coverage = kCoverage);
/// The shortest interval holding round(coverage x n) of the sample; the lowest of several equally short ones.
/// Values ascending, at least 2. source  JCGM 101:2008, 5.3.4 and 7.7.4
[[nodiscard]] Interval shortest_interval(std::span<const double> ascending, double coverage = kCoverage);

}  // namespace provenit::colour
