#include "length_path.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace provenit::evaluation {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr Index kMostDirections = 6;

VectorXd less_own_noise(const LengthProblem& p) {
  VectorXd out = Eigen::Map<const VectorXd>(p.measured.data(), static_cast<Index>(p.size()));
  const auto d = static_cast<Index>(p.dimension);
  const Eigen::Map<const VectorXd> noise(p.noise_variance.data(), out.size());
  for (Index at = 0; at < out.size(); at += d) {
    const double squared = out.segment(at, d).squaredNorm(), own = noise.segment(at, d).sum();
    out.segment(at, d) *= squared > own ? std::sqrt(1 - own / squared) : 0;
  }
  return out;
}

// The same for all vectors together: what they share is a typical length, found where noise is small. Vector by vector,
// short ones become 0 and the others stay: so uneven a set reads longer than an even one of the same mean length.
VectorXd less_noise_of_all(const LengthProblem& p) {
  VectorXd out = Eigen::Map<const VectorXd>(p.measured.data(), static_cast<Index>(p.size()));
  const auto d = static_cast<Index>(p.dimension);
  const Eigen::Map<const VectorXd> noise(p.noise_variance.data(), out.size());
  const double mean = out.squaredNorm() / static_cast<double>(p.points);
  double sum = 0, weights = 0;
  for (Index at = 0; at < out.size(); at += d) {
    const double own = noise.segment(at, d).sum(), weight = std::pow(own + mean, -2);
    sum += weight * (out.segment(at, d).squaredNorm() - own);
    weights += weight;
  }
  const double square = weights > 0 && std::isfinite(weights) ? std::max(0.0, sum / weights) : 0;
  for (Index at = 0; at < out.size(); at += d) {
    const double own = noise.segment(at, d).sum();
    if (own > 0) out.segment(at, d) *= std::sqrt(square / (square + own));
  }
  return out;
}

// The common errors as few independent ones of unit deviation: their principal directions, down to a thousandth of the
// largest variance.
MatrixXd principal_effects(const LengthProblem& p) {
  const Eigen::Map<const MatrixXd> effect(p.common.data(), static_cast<Index>(p.size()),
                                          static_cast<Index>(p.common_sources()));
  if (effect.cols() == 0) return effect;
  const Eigen::SelfAdjointEigenSolver<MatrixXd> directions(effect.transpose() * effect);
  const VectorXd& variances = directions.eigenvalues();  // ascending
  const double most = variances(variances.size() - 1);
  Index kept = 0;
  while (kept < std::min<Index>(variances.size(), kMostDirections) &&
         variances(variances.size() - 1 - kept) > 1e-3 * most)
    ++kept;
  return effect * directions.eigenvectors().rightCols(kept);
}

// For the mean and the 95th percentile: over the smallest length that common errors could have left (position -1) to
// ever longer ones (position = distance in standard uncertainties of the common errors).
class CommonPath final : public LengthPath {
 public:
  CommonPath(const LengthProblem& p, VectorXd read, MatrixXd effect)
      : p_(p), read_(std::move(read)), effect_(std::move(effect)) {
    if (effect_.cols() > 0) shortest_ = nearest_to_zero();
  }

  [[nodiscard]] VectorXd at(double position) const override {
    if (effect_.cols() == 0) return (position + 2) / 2 * read_;
    if (position <= -1) return (position + 2) * (read_ - effect_ * shortest_);
    if (position <= 0) return read_ + position * (effect_ * shortest_);
    return read_ - effect_ * farthest(position);
  }

 private:
  // Weights of the points in the gradient of the mean length, or of a power mean that stands for the 95th percentile.
  [[nodiscard]] VectorXd weights(const VectorXd& v) const {
    const auto d = static_cast<Index>(p_.dimension), n = static_cast<Index>(p_.points);
    VectorXd w(n);
    const Eigen::Map<const MatrixXd> columns(v.data(), d, n);
    const VectorXd lengths = columns.colwise().norm().transpose();
    const double most = std::max(lengths.maxCoeff(), 1e-12);
    for (Index j = 0; j < n; ++j) {
      const double l = std::max(lengths(j) / most, 1e-4);
      w(j) = p_.statistic == LengthStatistic::mean ? 1 / l : std::pow(l, 3);
    }
    return w;
  }

  // Common errors (in standard uncertainties) whose removal leaves the least: iteratively reweighted least squares.
  [[nodiscard]] VectorXd nearest_to_zero() const {
    VectorXd z = VectorXd::Zero(effect_.cols());
    for (int i = 0; i < 12; ++i) {
      const VectorXd w = spread(weights(read_ - effect_ * z));
      MatrixXd normal = effect_.transpose() * w.asDiagonal() * effect_;
      normal.diagonal().array() += 1e-3 * normal.diagonal().mean() + 1e-300;
      z = normal.ldlt().solve(effect_.transpose() * w.cwiseProduct(read_));
    }
    return z;
  }

  // Common errors of this size whose removal leaves the most.
  [[nodiscard]] VectorXd farthest(double radius) const {
    VectorXd best;
    double most = -1;
    const auto try_from = [&](VectorXd z) {
      for (int i = 0; i < 6; ++i) {
        const VectorXd left = read_ - effect_ * z;
        const VectorXd gradient = -(effect_.transpose() * spread(weights(left)).cwiseProduct(left));
        const double size = gradient.norm();
        if (!(size > 0)) break;
        z = radius / size * gradient;
      }
      const double length = length_of(read_ - effect_ * z);
      if (length > most) most = length, best = z;
    };
    if (shortest_.norm() > 0) try_from(-radius / shortest_.norm() * shortest_);
    for (Index s = 0; s < effect_.cols(); ++s)
      for (double sign : {-1.0, 1.0}) try_from(sign * radius * VectorXd::Unit(effect_.cols(), s));
    return best;
  }

  [[nodiscard]] VectorXd spread(const VectorXd& per_point) const {
    const auto d = static_cast<Index>(p_.dimension);
    VectorXd out(per_point.size() * d);
    for (Index j = 0; j < per_point.size(); ++j) out.segment(j * d, d).setConstant(per_point(j));
    return out;
  }

  [[nodiscard]] double length_of(const VectorXd& v) const {
    const Eigen::Map<const MatrixXd> columns(v.data(), static_cast<Index>(p_.dimension), static_cast<Index>(p_.points));
    const VectorXd lengths = columns.colwise().norm().transpose();
    if (p_.statistic == LengthStatistic::mean) return lengths.mean();
    std::vector<double> all(lengths.data(), lengths.data() + lengths.size());
    return percentile95(all);
  }

  const LengthProblem& p_;
  VectorXd read_;
  MatrixXd effect_;
  VectorXd shortest_;
};

}  // namespace

double percentile95(std::span<double> values) {
  const auto rank = static_cast<std::ptrdiff_t>(std::ceil(0.95 * static_cast<double>(values.size()) - 1e-9)) - 1;
  const auto at = values.begin() + std::max<std::ptrdiff_t>(rank, 0);
  std::ranges::nth_element(values, at);
  return *at;
}

std::unique_ptr<LengthPath> length_path(const LengthProblem& problem) {
  MatrixXd effect = principal_effects(problem);
  if (problem.statistic == LengthStatistic::largest) return largest_path(problem, less_own_noise(problem), effect);
  return std::make_unique<CommonPath>(problem, less_noise_of_all(problem), std::move(effect));
}

}  // namespace provenit::evaluation
