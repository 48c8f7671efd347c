#pragma once
// Intervals for lengths of error vectors: Delta E, Delta u'v', largest deviations. A length cannot be negative and is
// biased up by every error near zero, so value +- U fails there, and so do percentiles of a Monte Carlo sample: the
// noise is in them twice, and for errors of two or three components 0 is never inside (Hall, "Evaluating methods of
// calculating measurement uncertainty", Metrologia 45 (2008) L5-L8, from memory).
//
// What is done instead: the interval holds every true length that would not make the length as read an unlikely one,
// above or below (Neyman's construction, by Monte Carlo over the same draws). The 5 % that count as unlikely are shared
// evenly between both sides for long lengths and lie above alone for 0, where no reading is too low. For each true
// length one set of true vectors stands: one near to what was read (length_path.h). Of the largest length it is asked
// how many standard deviations vectors are above it, not how long the longest is. docs/methods/evaluation.md says how
// well this holds.
#include <cstddef>
#include <vector>

#include "provenit/colour/statistics.h"

namespace provenit::evaluation {

enum class LengthStatistic {
  mean,
  percentile95,  ///< nearest rank: the smallest length that at least 95 % of the points do not exceed
  largest
};

/// Error vectors as read and what their errors can do to them.
struct LengthProblem {
  std::size_t points = 0;
  std::size_t dimension = 0;           ///< components of a vector, 1 to 3
  std::vector<double> measured;        ///< points x dimension, row major
  std::vector<double> noise_variance;  ///< points x dimension: of the point's own random error (not what is common)
  /// common sources x points x dimension: error of the vectors when a source is off by one standard uncertainty.
  std::vector<double> common;
  /// draws x points x dimension: error of the vectors (reading less truth) in each Monte Carlo draw.
  std::vector<float> errors;
  LengthStatistic statistic = LengthStatistic::mean;

  [[nodiscard]] std::size_t size() const { return points * dimension; }
  [[nodiscard]] std::size_t draws() const { return errors.size() / size(); }
  [[nodiscard]] std::size_t common_sources() const { return common.size() / size(); }
};

struct LengthResult {
  double value = 0;                 ///< of the vectors less their own noise; inside the interval
  double as_read = 0;               ///< of the vectors as read, biased up
  double standard_uncertainty = 0;  ///< standard deviation of the length as read over the draws
  colour::Interval interval;
  std::vector<double> sample;  ///< length in each draw, for what dominates
};

/// in      at least one point and 100 draws
/// out     0 <= lower <= value <= upper
[[nodiscard]] LengthResult length_interval(const LengthProblem& problem, double coverage = colour::kCoverage);

}  // namespace provenit::evaluation
