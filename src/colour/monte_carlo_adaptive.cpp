// The adaptive procedure of JCGM 101:2008, 7.9.4.
#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/colour/monte_carlo.h"

namespace provenit::colour {
namespace {

// Numerical tolerance of a value given to so many significant digits: u = c x 10^l with c of that many digits,
// delta = 10^l / 2. JCGM 101:2008, 7.9.2.
double numerical_tolerance(double u, int significant_digits) {
  if (!(u > 0)) return 0;
  double exponent = std::floor(std::log10(u)) - significant_digits + 1;
  // 0.0996 to two digits is 0.10: rounding can carry into the next decade.
  if (std::round(u / std::pow(10.0, exponent)) >= std::pow(10.0, significant_digits)) exponent += 1;
  return 0.5 * std::pow(10.0, exponent);
}

// The four figures of each block whose averages have to settle.
struct Settling {
  std::array<std::vector<double>, 4> figures;

  void add(const MonteCarloSummary& block) {
    const std::array now{block.mean, block.standard_uncertainty, block.shortest.lower, block.shortest.upper};
    for (std::size_t i = 0; i < now.size(); ++i) figures[i].push_back(now[i]);
  }
  // Twice the standard deviation of each average over the blocks stays below the tolerance.
  [[nodiscard]] bool settled(double tolerance) const {
    const double blocks = static_cast<double>(figures[0].size());
    return std::ranges::all_of(
        figures, [&](const auto& values) { return 2 * standard_deviation(values) / std::sqrt(blocks) <= tolerance; });
  }
};

}  // namespace

std::vector<AdaptiveResult> propagate_adaptively(const Sources& sources, const Model& model, std::size_t outputs,
                                                 const AdaptiveOptions& options) {
  // J is the smallest whole number >= 100 / (1 - p); a block has max(J, 10^4) draws.
  const auto block = std::max<std::int64_t>(static_cast<std::int64_t>(std::ceil(100 / (1 - options.coverage))), 10'000);
  const ErrorSampler sampler(sources, options.seed);
  std::vector<double> errors(sources.size()), out(outputs);
  std::vector<std::vector<double>> sample(outputs);
  std::vector<Settling> settling(outputs);
  std::vector<AdaptiveResult> results(outputs);
  for (std::int64_t done = 0; done + block <= options.maximum_draws || done == 0;) {
    for (std::int64_t i = 0; i < block; ++i) {
      sampler.draw(static_cast<std::uint64_t>(done + i), errors);
      model(errors, out);
      for (std::size_t o = 0; o < outputs; ++o) sample[o].push_back(out[o]);
    }
    done += block;
    bool all = true;
    for (std::size_t o = 0; o < outputs; ++o) {
      settling[o].add(summarise({sample[o].end() - block, sample[o].end()}, options.coverage));
      results[o].tolerance = numerical_tolerance(standard_deviation(sample[o]), options.significant_digits);
      results[o].converged = done > block && settling[o].settled(results[o].tolerance);
      all = all && results[o].converged;
    }
    if (all) break;
  }
  for (std::size_t o = 0; o < outputs; ++o) results[o].summary = summarise(std::move(sample[o]), options.coverage);
  return results;
}

}  // namespace provenit::colour
