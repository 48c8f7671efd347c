#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "length_path.h"

namespace provenit::evaluation {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int kNewtonSteps = 20, kStepHalvings = 8;
constexpr double kNewtonDone = 1e-4;  // in standard uncertainties
constexpr double kLeastOwn = 1e-6;    // variance of a vector's own noise, of the largest: keeps the cost finite

// For the largest length: the true vectors nearest to what was read, in standard uncertainties of their own noise and
// of the common errors, of which the longest has that length. A shorter one: all that are longer come down to it, by
// common errors as far as that is the nearer way. A longer one: that vector grows for which it is the least unlikely,
// with what the errors take along. Half of what is left to own noise is taken as common too, in proportion to the
// vectors: were it all each vector's own, only one would ever be long, and patterns such as a drift's would be held too
// often; were it all common, scatter's extremes too seldom.
class LargestPath final : public LengthPath {
 public:
  LargestPath(const LengthProblem& p, VectorXd read, const MatrixXd& effect)
      : dimension_(static_cast<Index>(p.dimension)),
        points_(static_cast<Index>(p.points)),
        read_(std::move(read)),
        effect_(read_.size(), effect.cols() + 1),
        noise_(Eigen::Map<const VectorXd>(p.noise_variance.data(), read_.size())) {
    Index longest = 0;
    for (Index j = 1; j < points_; ++j)
      if (vector(read_, j).norm() > vector(read_, longest).norm()) longest = j;
    longest_ = vector(read_, longest).norm();
    const double own = std::sqrt(own_variance(longest, direction(read_, longest)));
    effect_.leftCols(effect.cols()) = effect;
    effect_.rightCols(1) = longest_ > 0 ? VectorXd(own / longest_ * read_) : VectorXd::Zero(read_.size());
    for (Index j = 0; j < points_; ++j) {
      const VectorXd along = direction(read_, j);
      deviation_.push_back(std::sqrt(own_variance(j, along) + common_along(j, along).squaredNorm()));
    }
    step_ = std::max(*std::ranges::max_element(deviation_), 1e-9 * std::max(longest_, 1e-6));
  }

  [[nodiscard]] VectorXd at(double position) const override {
    return position <= 0 ? within((position + 2) / 2 * longest_) : grown(longest_ + position * step_);
  }

 private:
  [[nodiscard]] VectorXd vector(const VectorXd& v, Index j) const { return v.segment(j * dimension_, dimension_); }
  [[nodiscard]] VectorXd direction(const VectorXd& v, Index j) const {
    const VectorXd at = vector(v, j);
    const double length = at.norm();
    return length > 0 ? VectorXd(at / length) : VectorXd::Unit(dimension_, 0);
  }
  [[nodiscard]] VectorXd common_along(Index j, const VectorXd& along) const {
    return effect_.middleRows(j * dimension_, dimension_).transpose() * along;
  }
  [[nodiscard]] double own_variance(Index j, const VectorXd& along) const {
    return noise_.segment(j * dimension_, dimension_).dot(along.cwiseAbs2());
  }

  // |z|^2 + sum over the vectors longer than the limit of ((length - limit) / own deviation)^2, and half its slope and
  // curvature if asked for.
  double cost(const VectorXd& z, double limit, VectorXd* slope, MatrixXd* curvature) const {
    const VectorXd left = read_ - effect_ * z;
    double sum = z.squaredNorm();
    if (slope != nullptr) *slope = z, *curvature = MatrixXd::Identity(z.size(), z.size());
    for (Index j = 0; j < points_; ++j) {
      const double excess = vector(left, j).norm() - limit;
      if (!(excess > 0)) continue;
      const VectorXd along = direction(left, j);
      const double own = std::max(own_variance(j, along), kLeastOwn * step_ * step_);
      sum += excess * excess / own;
      if (slope == nullptr) continue;
      const VectorXd common = common_along(j, along);
      *slope -= excess / own * common;
      *curvature += common * common.transpose() / own;
    }
    return sum;
  }

  // Common errors of the least cost, by Newton's method with halved steps, and the vectors they leave, cut to the
  // limit.
  [[nodiscard]] VectorXd within(double limit) const {
    VectorXd z = VectorXd::Zero(effect_.cols()), slope;
    MatrixXd curvature;
    for (int i = 0; i < kNewtonSteps; ++i) {
      const double now = cost(z, limit, &slope, &curvature);
      VectorXd step = curvature.ldlt().solve(slope);
      int halved = 0;
      while (halved < kStepHalvings && cost(z - step, limit, nullptr, nullptr) > now) step /= 2, ++halved;
      if (halved == kStepHalvings) break;
      z -= step;
      if (step.norm() < kNewtonDone) break;
    }
    VectorXd out = read_ - effect_ * z;
    for (Index j = 0; j < points_; ++j)
      if (const double length = vector(out, j).norm(); length > limit)
        out.segment(j * dimension_, dimension_) *= limit / length;
    return out;
  }

  [[nodiscard]] VectorXd grown(double wanted) const {
    Index best = 0;
    double least = std::numeric_limits<double>::infinity();
    for (Index j = 0; j < points_; ++j) {
      const double deviation = std::max(deviation_[static_cast<std::size_t>(j)], 1e-9 * step_);
      const double away = (wanted - vector(read_, j).norm()) / deviation;
      if (away < least) least = away, best = j;
    }
    const VectorXd along = direction(read_, best), common = common_along(best, along);
    const double more = wanted - vector(read_, best).norm();
    const double variance = own_variance(best, along) + common.squaredNorm();
    VectorXd out = read_;
    if (variance > 0) out += effect_ * (more / variance * common);
    out.segment(best * dimension_, dimension_) = wanted * along;
    return out;
  }

  Index dimension_, points_;
  VectorXd read_;
  MatrixXd effect_;
  VectorXd noise_;
  std::vector<double> deviation_;  ///< of each length
  double longest_ = 0, step_ = 0;
};

}  // namespace

std::unique_ptr<LengthPath> largest_path(const LengthProblem& problem, VectorXd read, const MatrixXd& effect) {
  return std::make_unique<LargestPath>(problem, std::move(read), effect);
}

}  // namespace provenit::evaluation
