#include <algorithm>
#include <cmath>
#include <span>

#include "findings_internal.h"
#include "ranges_internal.h"

namespace provenit::evaluation {
namespace {

constexpr double kWidest = 4;     // times the range as read, or as a perfect display would read
constexpr double kByLuck = 0.16;  // a range narrower than a perfect display's this quantile counts as that one
constexpr int kRangeHalvings = 40;
constexpr double kFine = 2e-5;  // of the widest
constexpr std::size_t kMostRangeDraws = 4000;

/// The values with this range that lie nearest to those as read (least squares). A smaller range than as read: what
/// lies outside of it is pulled to its ends, which balance. A larger one: the two extremes are moved apart.
std::vector<double> nearest(const std::vector<double>& measured, double range) {
  std::vector<double> out = measured;
  const auto [least, most] = std::ranges::minmax_element(out);
  const double more = range - (*most - *least);
  if (more >= 0) {
    *most += more / 2;
    *least -= more / 2;
    return out;
  }
  const auto pull = [&](double from) {
    double sum = 0;
    for (const double v : measured) sum += std::max(0.0, v - from - range) - std::max(0.0, from - v);
    return sum;
  };
  double low = *least, high = *most;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (pull(middle) > 0 ? low : high) = middle;
  }
  for (double& v : out) v = std::clamp(v, low, low + range);
  return out;
}

/// Ranges in all draws if these are the true values.
std::vector<double> ranges_of(const std::vector<double>& truth, const std::vector<float>& errors, std::size_t draws) {
  const std::size_t n = truth.size();
  std::vector<double> out(draws);
  for (std::size_t i = 0; i < draws; ++i) {
    double least = 0, most = 0;
    for (std::size_t k = 0; k < n; ++k) {
      const double v = truth[k] + static_cast<double>(errors[i * n + k]);
      least = k == 0 ? v : std::min(least, v);
      most = k == 0 ? v : std::max(most, v);
    }
    out[i] = most - least;
  }
  return out;
}

double range_of(std::span<const double> values) {
  const auto [least, most] = std::ranges::minmax(values);
  return most - least;
}

double share_at_least(const std::vector<double>& ranges, double range) {
  const auto above = std::ranges::count_if(ranges, [range](double r) { return r >= range; });
  return static_cast<double>(above) / static_cast<double>(ranges.size());
}

/// True range at which this share of the draws has a range of at least `range`; 0 if more have it already there.
double true_range(const RangeProblem& p, std::size_t draws, double range, double share, double widest) {
  const auto reached = [&](double candidate) {
    return share_at_least(ranges_of(nearest(p.measured, candidate), p.errors, draws), range) >= share;
  };
  if (reached(0)) return 0;
  double low = 0, high = widest;
  for (int i = 0; i < kRangeHalvings && high - low > kFine * widest; ++i) {
    const double middle = (low + high) / 2;
    (reached(middle) ? high : low) = middle;
  }
  return (low + high) / 2;
}

}  // namespace

RangeResult range_interval(const RangeProblem& p, double coverage) {
  RangeResult out;
  out.as_read = range_of(p.measured);
  const std::size_t all = p.errors.size() / p.measured.size(), draws = std::min(all, kMostRangeDraws);
  out.sample = ranges_of(p.measured, p.errors, all);
  auto perfect = ranges_of(nearest(p.measured, 0), p.errors, draws);
  std::ranges::sort(perfect);
  const double counted = std::max(out.as_read, colour::quantile(perfect, kByLuck));
  const double widest = kWidest * std::max(counted, perfect.back()), tail = (1 - coverage) / 2;
  const auto at = [&](double range, double share) { return true_range(p, draws, range, share, widest); };
  out.interval = {.lower = at(out.as_read, tail), .upper = at(counted, 1 - tail)};
  out.value = std::clamp(at(out.as_read, 0.5), out.interval.lower, out.interval.upper);
  return out;
}

void set_range(store::FindingRecord& f, const Study& study, std::span<const colour::Uncertain> values,
               const std::function<double(double)>& in_unit) {
  RangeProblem problem;
  for (const auto& v : values) problem.measured.push_back(v.value());
  const std::size_t n = values.size();
  problem.errors.resize(static_cast<std::size_t>(study.input.monte_carlo_draws) * n);
  const auto sampling =
      sample_errors(study, values, study.input.monte_carlo_draws, [&](std::size_t i, std::span<const double> errors) {
        for (std::size_t k = 0; k < n; ++k)
          problem.errors[i * n + k] = static_cast<float>(problem.measured[k] - values[k].at(errors));
      });
  auto result = range_interval(problem);
  f.value = in_unit(result.value);
  f.lower95 = in_unit(result.interval.lower);
  f.upper95 = in_unit(result.interval.upper);
  f.parts["as_read"] = in_unit(result.as_read);
  for (double& v : result.sample) v = in_unit(v);
  f.standard_uncertainty = colour::standard_deviation(result.sample);
  f.interval_method =
      "Monte Carlo, true ranges consistent with the reading, " + std::to_string(sampling.draws) + " draws";
  set_shares(f, result.sample, sampling, study);
}

}  // namespace provenit::evaluation
