#include "provenit/evaluation/lengths.h"

#include <algorithm>
#include <cmath>
#include <memory>

#include "length_path.h"

namespace provenit::evaluation {
namespace {

constexpr int kHalvings = 14;

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
  explicit Inversion(const LengthProblem& p) : p_(p), path_(length_path(p)), shifted_(p.size()) {}

  [[nodiscard]] double length(const double* vectors) {
    return statistic_of<D>(vectors, p_.points, p_.statistic, squares_);
  }
  [[nodiscard]] double length_at(double position) { return length(path_->at(position).data()); }

  /// Length as it would be read in every draw if the truth were that position on the path. Gives the true length.
  double sample(double position, std::vector<double>& out) {
    const Eigen::VectorXd truth = path_->at(position);
    const std::size_t n = p_.size();
    out.resize(p_.draws());
    for (std::size_t i = 0; i < out.size(); ++i) {
      const float* errors = &p_.errors[i * n];
      for (std::size_t k = 0; k < n; ++k)
        shifted_[k] = truth[static_cast<Eigen::Index>(k)] + static_cast<double>(errors[k]);
      out[i] = length(shifted_.data());
    }
    return length(truth.data());
  }

  /// True length at which the share of draws that would read no more than `read` falls to `wanted` of that length; 0
  /// if it is no larger for a true length of 0.
  template <class Wanted>
  [[nodiscard]] double length_for(double read, Wanted wanted) {
    const auto is_above = [&](double position) {
      const double length = sample(position, scratch_);
      const auto count = std::ranges::count_if(scratch_, [&](double t) { return t <= read; });
      return static_cast<double>(count) / static_cast<double>(scratch_.size()) > wanted(length);
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
  const LengthProblem& p_;
  std::unique_ptr<LengthPath> path_;
  std::vector<double> shifted_, scratch_, squares_;
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
  const double lower = inversion.length_for(out.as_read, [&](double length) { return coverage + lower_tail(length); });
  // A reading that is low by luck must not give an interval shorter than the errors allow: what a perfect display would
  // read, less one standard deviation, is the least that counts.
  const double upper = inversion.length_for(std::max(out.as_read, colour::quantile(at_zero, 0.16)), lower_tail);
  out.interval = {std::min(lower, upper), upper};
  // The longest as read is biased up by being chosen: its value is the one that it is the median of.
  const double value = problem.statistic == LengthStatistic::largest
                           ? inversion.length_for(out.as_read, [](double) { return 0.5; })
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
