#pragma once
// What the readings leave uncertain, linear about the fit: covariance of I, T, P at two places before any reading is
// Phi P Phi^T + K (P: prior of the parameters, K: what the formula may miss), and after them smaller by what the
// readings know.
#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <functional>
#include <span>
#include <vector>

#include "fit.h"

namespace provenit::correct::model {

/// K over the drives, alike and independent in I, T and P.
using Kernel = std::function<double(const Vector&, const Vector&)>;

class Posterior {
 public:
  Posterior() = default;
  /// rest: standard deviation of each of I, T, P of a reading beside its own noise.
  Posterior(const Fit& fit, std::span<const Point> points, Kernel kernel, double rest);

  /// Covariance of I, T, P at these places (light of the container's primaries, state 1), 3 rows a place, without what
  /// the rest adds. `fit` is that of the constructor.
  [[nodiscard]] Eigen::MatrixXd at(const Fit& fit, std::span<const Vector> containers) const;

 private:
  /// Adds K between places and others.
  void add(Eigen::MatrixXd& covariance, std::span<const Vector> places, std::span<const Vector> others) const;

  Kernel kernel_;
  Eigen::MatrixXd prior_, slopes_;       ///< P; Phi of the readings
  std::vector<Vector> drives_;           ///< of the readings
  Eigen::LLT<Eigen::MatrixXd> reading_;  ///< of the readings' own covariance with their noise
};

}  // namespace provenit::correct::model
