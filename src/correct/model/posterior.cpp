#include "posterior.h"

#include "eigen.h"
#include "slopes.h"

namespace provenit::correct::model {

Posterior::Posterior(const Fit& fit, std::span<const Point> points, Kernel kernel, double rest)
    : kernel_(std::move(kernel)) {
  const auto n = static_cast<Eigen::Index>(points.size());
  const Eigen::MatrixXd precision = prior_precision(fit.physics.start(), fit.terms);
  prior_ = precision.ldlt().solve(Eigen::MatrixXd::Identity(precision.rows(), precision.cols()));
  slopes_.resize(3 * n, precision.cols());
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& p = points[static_cast<std::size_t>(i)];
    slopes_.middleRows(3 * i, 3) = itp_slopes(fit.physics, p.container, p.state, fit.terms);
    drives_.push_back(fit.physics.drive(p.container));
  }
  Eigen::MatrixXd covariance = slopes_ * prior_ * slopes_.transpose();
  for (Eigen::Index i = 0; i < n; ++i)
    covariance.block<3, 3>(3 * i, 3 * i) +=
        eigen_of(deviation(fit.physics, points[static_cast<std::size_t>(i)]).noise) +
        rest * rest * Eigen::Matrix3d::Identity();
  add(covariance, drives_, drives_);
  reading_.compute(covariance);
}

Eigen::MatrixXd Posterior::at(const Fit& fit, std::span<const Vector> containers) const {
  Eigen::MatrixXd slopes(3 * static_cast<Eigen::Index>(containers.size()), prior_.rows());
  std::vector<Vector> drives;
  for (std::size_t i = 0; i < containers.size(); ++i) {
    slopes.middleRows(3 * static_cast<Eigen::Index>(i), 3) =
        itp_slopes(fit.physics, containers[i], {1, 1, 1}, fit.terms);
    drives.push_back(fit.physics.drive(containers[i]));
  }
  const Eigen::MatrixXd by_prior = slopes * prior_;
  Eigen::MatrixXd cross = by_prior * slopes_.transpose(), own = by_prior * slopes.transpose();
  add(cross, drives, drives_);
  add(own, drives, drives);
  const Eigen::MatrixXd known = reading_.matrixL().solve(cross.transpose());
  return own - known.transpose() * known;
}

void Posterior::add(Eigen::MatrixXd& covariance, std::span<const Vector> places, std::span<const Vector> others) const {
  if (!kernel_) return;
  for (std::size_t i = 0; i < places.size(); ++i)
    for (std::size_t j = 0; j < others.size(); ++j) {
      const double k = kernel_(places[i], others[j]);
      for (int a = 0; a < 3; ++a)
        covariance(static_cast<Eigen::Index>(3 * i) + a, static_cast<Eigen::Index>(3 * j) + a) += k;
    }
}

}  // namespace provenit::correct::model
