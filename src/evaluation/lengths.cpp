#include "provenit/evaluation/lengths.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <span>

namespace provenit::evaluation {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int kHalvings = 14;
constexpr Index kMostDirections = 6;

// Nearest rank: the smallest value that at least 95 % do not exceed. Reorders the values.
double percentile95(std::span<double> values) {
  const auto rank = static_cast<std::ptrdiff_t>(std::ceil(0.95 * static_cast<double>(values.size()) - 1e-9)) - 1;
  const auto at = values.begin() + std::max<std::ptrdiff_t>(rank, 0);
  std::ranges::nth_element(values, at);
  return *at;
}

// The true vectors that stand for each true length: a path from no error at all, over the smallest length that common
// errors could have left (position -1), through what was read (0), to ever longer ones (position = distance in standard
// uncertainties of the common errors).
class Path {
 public:
  explicit Path(const LengthProblem& p) : p_(p), read_(p.measured) {
    for (std::size_t j = 0; j < p.points; ++j) {
      double squared = 0, noise = 0;
      for (std::size_t k = 0; k < p.dimension; ++k) {
        squared += std::pow(read_[j * p.dimension + k], 2);
        noise += p.noise_variance[j * p.dimension + k];
      }
      const double left = squared > noise ? std::sqrt(1 - noise / squared) : 0;
      for (std::size_t k = 0; k < p.dimension; ++k) read_[j * p.dimension + k] *= left;
    }
    effect_ = principal_effects(p);
    shortest_ = effect_.cols() > 0 ? nearest_to_zero() : VectorXd();
  }

  [[nodiscard]] VectorXd at(double position) const {
    const VectorXd read = Eigen::Map<const VectorXd>(read_.data(), static_cast<Index>(read_.size()));
    if (effect_.cols() == 0) return (position + 2) / 2 * read;
    if (position <= -1) return (position + 2) * (read - effect_ * shortest_);
    if (position <= 0) return read + position * (effect_ * shortest_);
    return read - effect_ * farthest(position);
  }

 private:
  // The same common errors as few independent ones of unit deviation: their principal directions, down to a thousandth
  // of the largest variance.
  static MatrixXd principal_effects(const LengthProblem& p) {
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

  // Weights of the points in the gradient of the mean length, or of a high power mean that stands for the largest.
  [[nodiscard]] VectorXd weights(const VectorXd& v) const {
    const auto d = static_cast<Index>(p_.dimension), n = static_cast<Index>(p_.points);
    VectorXd w(n);
    const Eigen::Map<const MatrixXd> columns(v.data(), d, n);
    const VectorXd lengths = columns.colwise().norm().transpose();
    const double most = std::max(lengths.maxCoeff(), 1e-12);
    for (Index j = 0; j < n; ++j) {
      const double l = std::max(lengths(j) / most, 1e-4);
      w(j) =
          p_.statistic == LengthStatistic::mean ? 1 / l : std::pow(l, p_.statistic == LengthStatistic::largest ? 6 : 3);
    }
    return w;
  }

  // Common errors (in standard uncertainties) whose removal leaves the least: iteratively reweighted least squares.
  [[nodiscard]] VectorXd nearest_to_zero() const {
    const VectorXd read = Eigen::Map<const VectorXd>(read_.data(), static_cast<Index>(read_.size()));
    VectorXd z = VectorXd::Zero(effect_.cols());
    for (int i = 0; i < 12; ++i) {
      const VectorXd w = spread(weights(read - effect_ * z));
      MatrixXd normal = effect_.transpose() * w.asDiagonal() * effect_;
      normal.diagonal().array() += 1e-3 * normal.diagonal().mean() + 1e-300;
      z = normal.ldlt().solve(effect_.transpose() * w.cwiseProduct(read));
    }
    return z;
  }

  // Common errors of this size whose removal leaves the most.
  [[nodiscard]] VectorXd farthest(double radius) const {
    const VectorXd read = Eigen::Map<const VectorXd>(read_.data(), static_cast<Index>(read_.size()));
    VectorXd best;
    double most = -1;
    const auto try_from = [&](VectorXd z) {
      for (int i = 0; i < 6; ++i) {
        const VectorXd left = read - effect_ * z;
        const VectorXd gradient = -(effect_.transpose() * spread(weights(left)).cwiseProduct(left));
        const double size = gradient.norm();
        if (!(size > 0)) break;
        z = radius / size * gradient;
      }
      const double length = length_of(read - effect_ * z);
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
    if (p_.statistic == LengthStatistic::largest) return lengths.maxCoeff();
    std::vector<double> all(lengths.data(), lengths.data() + lengths.size());
    return percentile95(all);
  }

  const LengthProblem& p_;
  std::vector<double> read_;
  MatrixXd effect_;
  VectorXd shortest_;
};

template <std::size_t D>
double statistic_of(const double* vectors, std::size_t points, LengthStatistic statistic,
                    std::vector<double>& squares) {
  double sum = 0, largest = 0;
  const bool keep = statistic == LengthStatistic::percentile95;
  squares.clear();
  for (std::size_t j = 0; j < points; ++j) {
    double squared = 0;
    for (std::size_t k = 0; k < D; ++k) squared += vectors[j * D + k] * vectors[j * D + k];
    sum += std::sqrt(squared);
    largest = std::max(largest, squared);
    if (keep) squares.push_back(squared);
  }
  if (keep) return std::sqrt(percentile95(squares));
  return statistic == LengthStatistic::mean ? sum / static_cast<double>(points) : std::sqrt(largest);
}

template <std::size_t D>
class Inversion {
 public:
  explicit Inversion(const LengthProblem& p) : p_(p), path_(p), shifted_(p.size()) {}

  [[nodiscard]] double length(const double* vectors) {
    return statistic_of<D>(vectors, p_.points, p_.statistic, squares_);
  }
  [[nodiscard]] double length_at(double position) { return length(path_.at(position).data()); }

  /// Length as it would be read in every draw if the truth were that position on the path.
  void sample(double position, std::vector<double>& out) {
    const VectorXd truth = path_.at(position);
    const std::size_t n = p_.size();
    out.resize(p_.draws());
    for (std::size_t i = 0; i < out.size(); ++i) {
      const float* errors = &p_.errors[i * n];
      for (std::size_t k = 0; k < n; ++k) shifted_[k] = truth[static_cast<Index>(k)] + static_cast<double>(errors[k]);
      out[i] = length(shifted_.data());
    }
  }

  [[nodiscard]] double share_up_to(double read, double position) {
    sample(position, scratch_);
    const auto count = std::ranges::count_if(scratch_, [&](double t) { return t <= read; });
    return static_cast<double>(count) / static_cast<double>(scratch_.size());
  }

  /// True length at which the share of draws that would read no more than `read` falls to `wanted`; 0 if it is no
  /// larger for a true length of 0.
  [[nodiscard]] double length_for(double read, double wanted) {
    if (share_up_to(read, -2) <= wanted) return 0;
    double below = -2, above = 0;
    while (share_up_to(read, above) > wanted && above < 1e4) {
      below = above;
      above = above == 0 ? 2 : 2 * above;
    }
    for (int i = 0; i < kHalvings; ++i) {
      const double middle = 0.5 * (below + above);
      (share_up_to(read, middle) > wanted ? below : above) = middle;
    }
    return length_at(0.5 * (below + above));
  }

 private:
  const LengthProblem& p_;
  Path path_;
  std::vector<double> shifted_, scratch_, squares_;
};

template <std::size_t D>
LengthResult solve(const LengthProblem& problem, double coverage) {
  Inversion<D> inversion(problem);
  LengthResult out;
  out.as_read = inversion.length(problem.measured.data());
  inversion.sample(0, out.sample);
  out.standard_uncertainty = colour::standard_deviation(out.sample);

  const double tail = (1 - coverage) / 2;
  std::vector<double> at_zero;
  inversion.sample(-2, at_zero);
  std::ranges::sort(at_zero);
  const double lower = inversion.length_for(out.as_read, 1 - tail);
  // A reading that is low by luck must not give an interval shorter than the errors allow: what a perfect display would
  // read, less one standard deviation, is the least that counts.
  const double upper = inversion.length_for(std::max(out.as_read, colour::quantile(at_zero, 0.16)), tail);
  out.interval = {std::min(lower, upper), upper};
  out.value = std::clamp(inversion.length_at(0), out.interval.lower, out.interval.upper);
  return out;
}

}  // namespace

LengthResult length_interval(const LengthProblem& problem, double coverage) {
  switch (problem.dimension) {
    case 1:
      return solve<1>(problem, coverage);
    case 2:
      return solve<2>(problem, coverage);
    default:
      return solve<3>(problem, coverage);
  }
}

}  // namespace provenit::evaluation
