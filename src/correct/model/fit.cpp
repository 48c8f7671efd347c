#include "fit.h"

#include <ceres/ceres.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "eigen.h"
#include "slopes.h"

namespace provenit::correct::model {
namespace {

/// 1 Delta E ITP.
constexpr double kStep = 1.0 / 720;
/// No display is as even as its formula; rounding of 10-bit codes alone is worth this.
constexpr double kLeastDiscrepancy = 0.05 * kStep, kFirstDiscrepancy = 0.3 * kStep;
/// Prior standard deviations (our own: what displays do, loosely).
constexpr double kMixingSd = 0.05, kChromaticitySd = 0.01, kBlackSd = 0.3, kLeakageSd = 0.5, kInteractionSd = 0.02,
                 kMovingSd = 0.006, kDimmingSd = 1, kCurveSd = 0.15, kLeakagePowerSd = 0.2;

double sd_of(int parameter, const Start& start) {
  if (parameter < Layout::kChromaticity) return kMixingSd;
  if (parameter < Layout::kBlack) return kChromaticitySd;
  if (parameter < Layout::kLeakage)
    return kBlackSd + 0.5 * start.black[parameter - Layout::kBlack] / Layout::kBlackScale;
  if (parameter < Layout::kLeakagePower) return kLeakageSd;
  if (parameter < Layout::kInteraction) return kLeakagePowerSd;
  if (parameter < Layout::kMoving) return kInteractionSd;
  return parameter < Layout::kDimming ? kMovingSd : kDimmingSd;
}

constexpr double kMostDimming = 3, kLeastFreedom = 0.2;

/// Rows over the coefficients of one curve (away from y = x), each with standard deviation 1: second divided
/// differences over the expected bend, and the coefficients themselves, loosely.
Eigen::MatrixXd curve_rows(const CurveKnots& knots) {
  const int n = knots.size();
  const auto& g = knots.greville();
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(n - 2 + n - 1, n);
  for (int i = 1; i + 1 < n; ++i) {
    const double h0 = std::max(g[i] - g[i - 1], 1e-9), h1 = std::max(g[i + 1] - g[i], 1e-9);
    const double scale = 2 / ((h0 + h1) * knots.expected_bend(i));
    rows(i - 1, i - 1) = scale / h0;
    rows(i - 1, i) = -scale * (1 / h0 + 1 / h1);
    rows(i - 1, i + 1) = scale / h1;
  }
  for (int i = 1; i < n; ++i) rows(n - 3 + i, i) = 1 / kCurveSd;
  return rows;
}

/// The same over the increments, which are what is fitted: coefficient i is the sum of the first i of them.
Eigen::MatrixXd increment_rows(const CurveKnots& knots) {
  const int n = knots.size();
  Eigen::MatrixXd sums = Eigen::MatrixXd::Zero(n, n - 1);
  for (int i = 1; i < n; ++i)
    for (int j = 0; j < i; ++j) sums(i, j) = 1;
  return curve_rows(knots) * sums;
}

/// All residuals in one function: three of each point, then the prior's.
class Residuals final : public ceres::CostFunction {
 public:
  Residuals(const Start& start, std::span<const Point> points, const ModelTerms& terms, const Physics& about,
            double discrepancy)
      : start_(start), points_(points), terms_(terms), mean_(prior_mean(start)), rows_(increment_rows(start.knots)) {
    for (const auto& p : points) {
      const Vector model = about.xyz(about.drive(p.container), p.state);
      const Eigen::Matrix3d slope = eigen_of(itp_slope(model));
      const Eigen::Matrix3d noise =
          slope * eigen_of(p.covariance) * slope.transpose() + discrepancy * discrepancy * Eigen::Matrix3d::Identity();
      const Eigen::LLT<Eigen::Matrix3d> root(noise);
      whiten_.push_back(root.matrixL().solve(slope));
      log_determinant_ += 2 * root.matrixLLT().diagonal().array().log().sum();
    }
    const int n = parameter_count(start);
    set_num_residuals(static_cast<int>(3 * points.size()) + Layout::kCurves + 3 * static_cast<int>(rows_.rows()));
    mutable_parameter_block_sizes()->push_back(n);
  }

  bool Evaluate(double const* const* parameters, double* residuals, double** jacobians) const override {
    const int n = parameter_count(start_);
    const Physics physics(start_, std::vector<double>(parameters[0], parameters[0] + n));
    using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
    Rows* jacobian = nullptr;
    Rows filled;
    if (jacobians && jacobians[0]) {
      filled = Rows::Zero(num_residuals(), n);
      jacobian = &filled;
    }
    for (std::size_t i = 0; i < points_.size(); ++i) {
      const auto& p = points_[i];
      const Vector xyz = physics.xyz(physics.drive(p.container), p.state);
      Eigen::Map<Eigen::Vector3d> r(residuals + 3 * i);
      r = whiten_[i] * Eigen::Vector3d(xyz[0] - p.xyz[0], xyz[1] - p.xyz[1], xyz[2] - p.xyz[2]);
      if (jacobian)
        jacobian->middleRows(static_cast<Eigen::Index>(3 * i), 3) =
            whiten_[i] * xyz_slopes(physics, p.container, p.state, terms_);
    }
    auto at = static_cast<int>(3 * points_.size());
    for (int k = 0; k < Layout::kCurves; ++k, ++at) {
      const double weight = is_active(k, terms_) ? 1 / sd_of(k, start_) : 1e6;
      residuals[at] = weight * (parameters[0][k] - mean_[k]);
      if (jacobian) (*jacobian)(at, k) = weight;
    }
    const auto steps = start_.knots.size() - 1;
    for (int c = 0; c < 3; ++c) {
      const int from = Layout::kCurves + c * steps;
      Eigen::VectorXd off(steps);
      for (int i = 0; i < steps; ++i) off[i] = parameters[0][from + i] - mean_[from + i];
      Eigen::Map<Eigen::VectorXd>(residuals + at, rows_.rows()) = rows_ * off;
      if (jacobian) jacobian->block(at, from, rows_.rows(), steps) = rows_;
      at += static_cast<int>(rows_.rows());
    }
    if (jacobian) Eigen::Map<Rows>(jacobians[0], num_residuals(), n) = filled;
    return true;
  }

  [[nodiscard]] double log_determinant() const { return log_determinant_; }

 private:
  const Start& start_;
  std::span<const Point> points_;
  ModelTerms terms_;
  std::vector<double> mean_;
  Eigen::MatrixXd rows_;
  std::vector<Eigen::Matrix3d> whiten_;
  double log_determinant_ = 0;
};

/// Discrepancy that makes the deviations as large as they are, by bisection: sum of squares against what is expected.
double discrepancy_of(std::span<const Deviation> deviations, double freedom) {
  const auto excess = [&](double d) {
    double sum = 0;
    for (const auto& v : deviations) {
      const Eigen::Matrix3d noise = eigen_of(v.noise) + d * d * Eigen::Matrix3d::Identity();
      const Eigen::Vector3d e = eigen_of(v.itp);
      // Outliers must not pass for a poor model.
      sum += std::min(e.dot(noise.ldlt().solve(e)), 16.0);
    }
    return sum / (3 * static_cast<double>(deviations.size())) - freedom;
  };
  double low = kLeastDiscrepancy, high = 20 * kStep;
  if (excess(low) <= 0) return low;
  for (int i = 0; i < 40; ++i) {
    const double middle = std::sqrt(low * high);
    (excess(middle) > 0 ? low : high) = middle;
  }
  return high;
}

}  // namespace

Eigen::MatrixXd prior_precision(const Start& start, const ModelTerms& terms) {
  const int n = parameter_count(start), steps = start.knots.size() - 1;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(n, n);
  for (int k = 0; k < Layout::kCurves; ++k) {
    const double sd = is_active(k, terms) ? sd_of(k, start) : 1e-6;
    out(k, k) = 1 / (sd * sd);
  }
  const Eigen::MatrixXd rows = increment_rows(start.knots);
  for (int c = 0; c < 3; ++c)
    out.block(Layout::kCurves + c * steps, Layout::kCurves + c * steps, steps, steps) = rows.transpose() * rows;
  return out;
}

Deviation deviation(const Physics& physics, const Point& point) {
  const Vector model = physics.xyz(physics.drive(point.container), point.state);
  const Eigen::Matrix3d slope = eigen_of(itp_slope(model));
  const Eigen::Vector3d e =
      slope * Eigen::Vector3d(point.xyz[0] - model[0], point.xyz[1] - model[1], point.xyz[2] - model[2]);
  const Eigen::Matrix3d noise = slope * eigen_of(point.covariance) * slope.transpose();
  return {.itp = {e[0], e[1], e[2]}, .noise = matrix_of(noise)};
}

Fit fitted(const Start& start, std::span<const Point> points, const ModelTerms& terms, const Physics* from) {
  const std::vector<double> mean = prior_mean(start);
  std::vector<double> parameters = from ? from->parameters() : mean;
  for (int k = 0; k < Layout::kCurves; ++k)
    if (!is_active(k, terms)) parameters[k] = mean[k];
  Physics physics(start, parameters);
  double discrepancy = kFirstDiscrepancy, criterion = 0, freedom = 1;
  constexpr int kPasses = 3;
  for (int pass = 0; pass < kPasses; ++pass) {
    ceres::Problem problem;
    auto* residuals = new Residuals(start, points, terms, physics, discrepancy);  // the problem owns it
    problem.AddResidualBlock(residuals, nullptr, parameters.data());
    for (int k = Layout::kCurves; k < parameter_count(start); ++k)
      problem.SetParameterLowerBound(parameters.data(), k, 0);
    for (int k = 0; k < 3; ++k) {
      problem.SetParameterLowerBound(parameters.data(), Layout::kBlack + k, 0);
      problem.SetParameterLowerBound(parameters.data(), Layout::kLeakage + k, 0);
    }
    problem.SetParameterLowerBound(parameters.data(), Layout::kDimming, 0);
    problem.SetParameterUpperBound(parameters.data(), Layout::kDimming, kMostDimming);
    problem.SetParameterLowerBound(parameters.data(), Layout::kLeakagePower, 0.3);
    problem.SetParameterUpperBound(parameters.data(), Layout::kLeakagePower, 1.2);
    ceres::Solver::Options options;
    options.linear_solver_type = ceres::DENSE_NORMAL_CHOLESKY;
    options.max_num_iterations = pass == 0 ? 25 : 12;
    options.function_tolerance = 1e-7;
    options.logging_type = ceres::SILENT;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
    physics = Physics(start, parameters);

    // Effective number of parameters: trace of H (H + P)^-1, H from the data, P from the prior.
    const Eigen::MatrixXd prior = prior_precision(start, terms);
    Eigen::MatrixXd data = Eigen::MatrixXd::Zero(prior.rows(), prior.cols());
    std::vector<Deviation> deviations;
    double fit = residuals->log_determinant();
    for (const auto& p : points) {
      const Deviation& d = deviations.emplace_back(deviation(physics, p));
      const Eigen::MatrixXd slope = itp_slopes(physics, p.container, p.state, terms);
      const Eigen::LLT<Eigen::Matrix3d> noise(eigen_of(d.noise) +
                                              discrepancy * discrepancy * Eigen::Matrix3d::Identity());
      data += slope.transpose() * noise.solve(slope);
      const Eigen::Vector3d e = eigen_of(d.itp);
      fit += e.dot(noise.solve(e));
    }
    const Eigen::MatrixXd both = data + prior;
    const double effective = both.ldlt().solve(data).trace();
    const double n = 3 * static_cast<double>(points.size());
    criterion = fit + 2 * effective + 2 * effective * (effective + 1) / std::max(n - effective - 1, 1.0);
    freedom = std::max(kLeastFreedom, 1 - effective / n);
    discrepancy = discrepancy_of(deviations, freedom);
  }
  return {.physics = std::move(physics),
          .terms = terms,
          .discrepancy = discrepancy,
          .criterion = criterion,
          .freedom = freedom};
}

Fit chosen(const Start& start, std::span<const Point> points, std::vector<std::pair<ModelTerms, double>>& tried) {
  Fit best = fitted(start, points, {});
  tried.emplace_back(best.terms, best.criterion);
  constexpr std::array<bool ModelTerms::*, 4> kTerms{&ModelTerms::interaction, &ModelTerms::leakage,
                                                     &ModelTerms::moving_primaries, &ModelTerms::dimming};
  for (bool better = true; better;) {
    better = false;
    Fit round = best;
    for (const auto term : kTerms) {
      if (best.terms.*term) continue;
      ModelTerms more = best.terms;
      more.*term = true;
      Fit next = fitted(start, points, more, &best.physics);
      tried.emplace_back(more, next.criterion);
      if (next.criterion < round.criterion) {
        round = std::move(next);
        better = true;
      }
    }
    best = std::move(round);
  }
  return best;
}

}  // namespace provenit::correct::model
