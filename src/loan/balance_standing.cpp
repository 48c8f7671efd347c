#include <array>

#include "balance_procedure.h"
#include "provenit/loan/balance.h"
#include "provenit/loan/loan.h"

namespace provenit::loan {
namespace {

BalanceStanding::Level level_of(const correct::BalanceTask& task, std::size_t index,
                                const correct::BalanceVisit::Level& read, const colour::Sources& sources,
                                std::span<const colour::SourceId> common) {
  return {.light = {.X = read.light.X.value(), .Y = read.light.Y.value(), .Z = read.light.Z.value()},
          .readings = read.readings,
          .figures = correct::level_figures(task, index, read.light, sources, common)};
}

}  // namespace

Result<std::optional<BalanceStanding>> balance_standing(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  std::optional<store::RunRecord> newest;
  for (const auto& run : *runs)
    if (run.procedure == "balance") newest = run;
  if (!newest) return std::optional<BalanceStanding>{};
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  context->parameters = newest->parameters;
  auto task = BalanceProcedure::task_of(*context);
  if (!task) return tl::unexpected(task.error());
  const auto readings = bench.readings(newest->id);
  if (!readings) return tl::unexpected(readings.error());

  BalanceStanding out{.run = *newest, .task = std::move(*task)};
  out.now = out.task.start;
  out.levels.resize(out.task.levels.size());
  out.readings = static_cast<int>(readings->size());
  if (readings->empty()) {
    auto step = correct::next_balance_step(out.task, {}, {}, {});
    if (!step) return tl::unexpected(step.error());
    out.step = std::move(*step);
    return out;
  }
  const std::array<evaluation::RunData, 1> run{{{.run = *newest, .readings = *readings}}};
  const auto light = evaluation::model_light(run, {.encoding = context->encoding,
                                                   .certificate = basis->certificate,
                                                   .capabilities = context->capabilities,
                                                   .matrix = basis->matrix});
  if (!light) return tl::unexpected(light.error());
  const auto visits = visits_of(out.task, *readings, light->find(newest->procedure));
  if (!visits) return tl::unexpected(visits.error());
  std::vector<colour::SourceId> common;
  for (const auto& source : light->instrument) common.push_back(source.id);
  common.insert(common.end(), light->matrix.begin(), light->matrix.end());
  auto step = correct::next_balance_step(out.task, *visits, light->sources, common);
  if (!step) return tl::unexpected(step.error());
  out.step = std::move(*step);
  out.visits = static_cast<int>(visits->size());
  out.now = visits->back().settings;
  for (std::size_t i = 0; i < out.levels.size(); ++i)
    if (const auto& read = visits->back().levels[i]; read.readings > 0)
      out.levels[i] = level_of(out.task, i, read, light->sources, common);
  return out;
}

}  // namespace provenit::loan
