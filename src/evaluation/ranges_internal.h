#pragma once
// Intervals for ranges: largest less smallest of many values, each with an error. Every error widens a range, so it is
// biased up, and percentiles of a Monte Carlo sample hold the errors twice (see lengths.h, which has the same trouble).
//
// What is done: the interval holds every true range that would not make the range as read an unlikely one, above or
// below (Neyman's construction, by Monte Carlo over the same draws). For each true range one set of true values stands:
// the one nearest to the values as read (least squares). The value is the range that the one as read is the median of.
#include <cstddef>
#include <vector>

#include "provenit/colour/statistics.h"

namespace provenit::evaluation {

struct RangeProblem {
  std::vector<double> measured;  ///< as read, at least two
  std::vector<float> errors;     ///< draws x points: reading less truth
};

struct RangeResult {
  double value = 0;    ///< inside the interval
  double as_read = 0;  ///< biased up
  colour::Interval interval;
  std::vector<double> sample;  ///< range in each draw, for what dominates
};

/// in      at least two points and 100 draws
/// out     0 <= lower <= value <= upper
[[nodiscard]] RangeResult range_interval(const RangeProblem& problem, double coverage = colour::kCoverage);

}  // namespace provenit::evaluation
