#include "provenit/evaluation/lengths.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>
#include <numeric>
#include <span>

#include "length_path.h"

namespace provenit::evaluation {
namespace {

constexpr int kHalvings = 14;
/// A reading that is low by luck must not give an interval shorter than the errors allow: this quantile of what a
/// perfect display would read, one standard deviation low, is the least that counts.
constexpr double kLeastRead = 0.16;
constexpr double kLeastVariance = 1e-18;  // of a length, of the largest of a component

template <std::size_t D>
class Inversion {
 public:
  explicit Inversion(const LengthProblem& p) : p_(p), path_(length_path(p)), shifted_(p.size()), lengths_(p.points) {
    if (p.statistic == LengthStatistic::largest) find_covariances();
  }

  [[nodiscard]] double length(const double* vectors) { return statistic(lengths_of(vectors)); }
  [[nodiscard]] double length_at(double position) { return length(path_->at(position).data()); }

  /// Length as it would be read in every draw if the truth were that position on the path.
  void sample(double position, std::vector<double>& out) {
    const Eigen::VectorXd truth = path_->at(position);
    out.resize(p_.draws());
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = length(read_in(i, truth));
  }

  /// True length at which the share of draws that would read no more than was read falls to `wanted` of that length; 0
  /// if it is no larger for a true length of 0. With `least` above 0 what was read counts as no less than that quantile
  /// of what would be read of a perfect display.
  template <class Wanted>
  [[nodiscard]] double length_for(double least, Wanted wanted) {
    const Eigen::VectorXd perfect = path_->at(-2);
    const auto least_read = [&](double length) {
      auto draws = compared_in_draws(perfect, length);
      std::ranges::sort(draws);
      return colour::quantile(draws, least);
    };
    // What is compared depends on the true length for the largest alone.
    const bool once = p_.statistic != LengthStatistic::largest;
    const double for_all = least > 0 && once ? least_read(0) : 0;
    const auto is_above = [&](double position) {
      const Eigen::VectorXd truth = path_->at(position);
      const double length = this->length(truth.data());
      double read = compared(p_.measured.data(), length);
      if (least > 0) read = std::max(read, once ? for_all : least_read(length));
      const auto draws = compared_in_draws(truth, length);
      const auto count = std::ranges::count_if(draws, [&](double t) { return t <= read; });
      return static_cast<double>(count) / static_cast<double>(draws.size()) > wanted(length);
    };
    if (!is_above(-2)) return 0;
    double below = -2, above = 0;
    while (is_above(above) && above < 1e4) {
      below = above;
      above = above == 0 ? 2 : 2 * above;
    }
    for (int i = 0; i < kHalvings; ++i) {
      const double middle = 0.5 * (below + above);
      (is_above(middle) ? below : above) = middle;
    }
    return length_at(0.5 * (below + above));
  }

 private:
  [[nodiscard]] std::span<double> lengths_of(const double* vectors) {
    for (std::size_t j = 0; j < p_.points; ++j) {
      double squared = 0;
      for (std::size_t k = 0; k < D; ++k) squared += vectors[j * D + k] * vectors[j * D + k];
      lengths_[j] = std::sqrt(squared);
    }
    return lengths_;
  }
  [[nodiscard]] const double* read_in(std::size_t draw, const Eigen::VectorXd& truth) {
    const float* errors = &p_.errors[draw * p_.size()];
    for (std::size_t k = 0; k < shifted_.size(); ++k)
      shifted_[k] = truth[static_cast<Eigen::Index>(k)] + static_cast<double>(errors[k]);
    return shifted_.data();
  }
  [[nodiscard]] double statistic(std::span<double> lengths) const {
    if (p_.statistic == LengthStatistic::percentile95) return percentile95(lengths);
    if (p_.statistic == LengthStatistic::largest) return std::ranges::max(lengths);
    return std::accumulate(lengths.begin(), lengths.end(), 0.0) / static_cast<double>(lengths.size());
  }

  /// What is asked whether it is unlikely for a true length. Of the largest: by how much lengths are above the true
  /// one, each in the standard deviations of its vector in its direction. A vector that is known badly would hide what
  /// the others say.
  [[nodiscard]] double compared(const double* vectors, double length) {
    const auto lengths = lengths_of(vectors);
    if (p_.statistic != LengthStatistic::largest) return statistic(lengths);
    double most = -std::numeric_limits<double>::infinity();
    for (std::size_t j = 0; j < p_.points; ++j)
      most = std::max(most, (lengths[j] - length) / deviation(j, vectors + j * D, lengths[j]));
    return most;
  }
  [[nodiscard]] std::vector<double> compared_in_draws(const Eigen::VectorXd& truth, double length) {
    std::vector<double> out(p_.draws());
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = compared(read_in(i, truth), length);
    return out;
  }

  void find_covariances() {
    covariance_.assign(p_.points, {});
    for (std::size_t i = 0; i < p_.errors.size(); i += D) {
      auto& of_point = covariance_[i / D % p_.points];
      for (std::size_t a = 0; a < D; ++a)
        for (std::size_t b = 0; b < D; ++b)
          of_point[a * D + b] += static_cast<double>(p_.errors[i + a]) * static_cast<double>(p_.errors[i + b]) /
                                 static_cast<double>(p_.draws());
    }
    for (const auto& of_point : covariance_)
      for (std::size_t a = 0; a < D; ++a) most_variance_ = std::max(most_variance_, of_point[a * D + a]);
  }
  /// Of a vector's length to first order; never 0.
  [[nodiscard]] double deviation(std::size_t point, const double* vector, double length) const {
    const auto& of_point = covariance_[point];
    double variance = 0;
    for (std::size_t a = 0; a < D; ++a)
      for (std::size_t b = 0; b < D; ++b)
        variance += of_point[a * D + b] * (length > 0 ? vector[a] * vector[b] / (length * length)
                                           : a == b   ? 1.0 / D
                                                      : 0);
    return std::sqrt(std::max({variance, kLeastVariance * most_variance_, std::numeric_limits<double>::min()}));
  }

  const LengthProblem& p_;
  std::unique_ptr<LengthPath> path_;
  std::vector<double> shifted_, lengths_;
  std::vector<std::array<double, D * D>> covariance_;  ///< of each point's errors, for the largest
  double most_variance_ = 0;
};

template <std::size_t D>
LengthResult solve(const LengthProblem& problem, double coverage) {
  Inversion<D> inversion(problem);
  LengthResult out;
  out.as_read = inversion.length(problem.measured.data());
  inversion.sample(0, out.sample);
  out.standard_uncertainty = colour::standard_deviation(out.sample);

  std::vector<double> at_zero;
  inversion.sample(-2, at_zero);
  std::ranges::sort(at_zero);
  // Both tails are alike for long lengths. Towards 0 all goes to the upper one: there no reading is too low, and with
  // both tails intervals that begin at 0 would hold the truth in 97.5 %.
  const double outside = 1 - coverage, both_from = colour::quantile(at_zero, coverage);
  const auto lower_tail = [&](double length) {
    return outside / 2 * std::min(1.0, length / std::max(both_from, 1e-300));
  };
  const double lower = inversion.length_for(0, [&](double length) { return coverage + lower_tail(length); });
  const double upper = inversion.length_for(kLeastRead, lower_tail);
  out.interval = {std::min(lower, upper), upper};
  // The longest as read is biased up by being chosen: its value is the one that it is the median of.
  const double value = problem.statistic == LengthStatistic::largest
                           ? inversion.length_for(0, [](double) { return 0.5; })
                           : inversion.length_at(0);
  out.value = std::clamp(value, out.interval.lower, out.interval.upper);
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
