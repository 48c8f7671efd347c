#pragma once
// The true vectors that stand for each true length (lengths.h), as a path from no error at all to ever longer vectors.
#include <Eigen/Core>
#include <memory>
#include <span>

#include "provenit/evaluation/lengths.h"

namespace provenit::evaluation {

class LengthPath {
 public:
  virtual ~LengthPath() = default;
  /// -2: vectors of length 0; 0: those read, less their own noise; above 0 ever longer ones. The length grows with the
  /// position.
  [[nodiscard]] virtual Eigen::VectorXd at(double position) const = 0;
};

/// Keeps a reference to the problem.
[[nodiscard]] std::unique_ptr<LengthPath> length_path(const LengthProblem& problem);
/// For LengthStatistic::largest. `read`: the vectors less their own noise; `effect`: columns of them, one for each
/// independent common error of unit deviation.
[[nodiscard]] std::unique_ptr<LengthPath> largest_path(const LengthProblem& problem, Eigen::VectorXd read,
                                                       const Eigen::MatrixXd& effect);

/// Nearest rank: the smallest value (of at least one) that at least 95 % do not exceed. Reorders the values.
[[nodiscard]] double percentile95(std::span<double> values);

}  // namespace provenit::evaluation
