#pragma once
// Small non-linear least squares with slopes by differences.
#include <functional>
#include <span>
#include <vector>

namespace provenit::forecast {

using Residuals = std::function<std::vector<double>(std::span<const double>)>;

struct Minimum {
  std::vector<double> at;
  std::vector<double> deviation;  ///< one standard deviation of each, for residuals of unit variance
  double cost = 0;                ///< sum of squares
};

/// From `start` downhill. The residuals hold the priors too, so that every number is determined.
/// source  Levenberg, Marquardt (from memory)
[[nodiscard]] Minimum least_squares(const Residuals& residuals, std::vector<double> start);

}  // namespace provenit::forecast
