#include "provenit/correct/solve.h"

#include <tbb/parallel_for.h>

#include "curves.h"
#include "goal.h"
#include "refine.h"
#include "sizes.h"

namespace provenit::correct {

Result<Solved> solve_3d(const DisplayModel& model, const CorrectionGoal& goal, int size) {
  if (auto ok = nodes_allowed(size); !ok) return tl::unexpected(ok.error());
  const auto ready = solving::Goal::make(model, goal);
  if (!ready) return tl::unexpected(ready.error());
  Lut3d table = identity_3d(size);
  std::vector<char> mapped(table.nodes.size());  // not bool: written by several threads
  tbb::parallel_for(std::size_t{0}, table.nodes.size(), [&](std::size_t i) {
    const auto node = ready->solved(table.nodes[i]);
    table.nodes[i] = node.numbers;
    mapped[i] = node.mapped ? 1 : 0;
  });
  solving::refine(table, mapped, *ready);
  Solved out{.lut = {.title = "", .input = ready->input(), .output = ready->output(), .stages = {std::move(table)}},
             .peak = ready->peak()};
  ready->judge(out);
  return out;
}

namespace {

/// Curves of the goal, made by `stages`.
template <class F>
Result<Solved> solve_curves(const DisplayModel& model, const CorrectionGoal& goal, int entries, F&& stages) {
  if (auto ok = entries_allowed(entries); !ok) return tl::unexpected(ok.error());
  const auto ready = solving::Goal::make(model, goal);
  if (!ready) return tl::unexpected(ready.error());
  Solved out{.lut = {.title = "", .input = ready->input(), .output = ready->output(), .stages = stages(*ready)},
             .peak = ready->peak()};
  ready->judge(out);
  return out;
}

}  // namespace

Result<Solved> solve_1d(const DisplayModel& model, const CorrectionGoal& goal, int entries) {
  return solve_curves(model, goal, entries, [&](const solving::Goal& ready) {
    return std::vector<Stage>{solving::grey_curves(ready, entries)};
  });
}

Result<Solved> solve_matrix(const DisplayModel& model, const CorrectionGoal& goal, int entries) {
  return solve_curves(model, goal, entries,
                      [&](const solving::Goal& ready) { return solving::curves_and_matrix(ready, entries); });
}

Result<Lut> chained(const Lut& first, const Lut& second, int size) {
  if (auto ok = nodes_allowed(size); !ok) return tl::unexpected(ok.error());
  for (const Lut* lut : {&first, &second})
    if (auto ok = validate(*lut); !ok) return tl::unexpected(ok.error());
  if (first.output && second.input && !(*first.output == *second.input))
    return fail(ErrorCode::invalid_input, "what the first table gives is not what the second takes",
                "Chain tables of one encoding.");
  Lut3d table = identity_3d(size);
  tbb::parallel_for(0, size * size, [&](int rg) {
    for (int b = 0; b < size; ++b) {
      Triple& node = table.node(rg / size, rg % size, b);
      node = evaluate(second, evaluate(first, node));
    }
  });
  return Lut{.title = first.title, .input = first.input, .output = second.output, .stages = {std::move(table)}};
}

}  // namespace provenit::correct
