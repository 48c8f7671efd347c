// Lengths of vectors that come from steps: errors drawn, interval taken.
#include "findings_internal.h"

namespace provenit::evaluation {
namespace {

void set_lengths(store::FindingRecord& f, const Study& study, const Vectors& vectors,
                 std::span<const colour::Uncertain> inputs, LengthStatistic statistic) {
  LengthProblem problem = length_problem(study, vectors, inputs);
  problem.statistic = statistic;
  const std::size_t n = problem.size();
  problem.errors.resize(static_cast<std::size_t>(study.input.monte_carlo_draws) * n);
  std::vector<double> out(n);
  const auto sampling =
      sample_errors(study, inputs, study.input.monte_carlo_draws, [&](std::size_t i, std::span<const double> errors) {
        vectors.at(errors, out);
        for (std::size_t k = 0; k < n; ++k)
          problem.errors[i * n + k] = static_cast<float>(problem.measured[k] - out[k]);
      });
  set_length(f, length_interval(problem), sampling, study);
}

}  // namespace

void set_single_length(store::FindingRecord& f, const Study& study, const Vectors& vectors,
                       std::span<const colour::Uncertain> inputs) {
  set_lengths(f, study, vectors, inputs, LengthStatistic::mean);
}

void set_largest_length(store::FindingRecord& f, const Study& study, const Vectors& vectors,
                        std::span<const colour::Uncertain> inputs) {
  set_lengths(f, study, vectors, inputs, LengthStatistic::largest);
}

}  // namespace provenit::evaluation
