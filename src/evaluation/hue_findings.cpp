// Hue in ICtCp over saturation and above the clip.
#include <algorithm>
#include <cmath>

#include "colour_target_internal.h"

namespace provenit::evaluation {
namespace {

/// The steps "<name>_<number>" of one colour, in rising order of the number.
struct Row {
  std::string name;
  std::vector<const StepLight*> steps;
};

std::vector<Row> rows_of(const RunLight& run) {
  std::vector<Row> rows;
  for (const auto& step : run.steps) {
    const auto bar = step.key.rfind('_');
    if (bar == std::string::npos) continue;
    const std::string name = step.key.substr(0, bar);
    const auto row = std::ranges::find(rows, name, &Row::name);
    if (row == rows.end())
      rows.push_back({name, {&step}});
    else
      row->steps.push_back(&step);
  }
  const auto number = [](const StepLight* s) { return std::stod(s->key.substr(s->key.rfind('_') + 1)); };
  for (auto& row : rows) std::ranges::sort(row.steps, {}, number);
  return rows;
}

/// Largest change of the hue error (light less target, as the codes ask for it) against that of the base step.
void add_row(Findings& out, const Study& study, const RunLight& run, const ColourTarget& target, const Row& row,
             const StepLight* base, const char* quantity, const Method& method) {
  std::vector<const StepLight*> others = row.steps;
  std::erase(others, base);
  if (others.empty()) return;
  const auto error_of = [&](const StepLight& step, std::span<const double> errors,
                            const ColourTarget::Display& display) {
    return turn_between(ictcp_hue_degrees(light_at(step, errors)),
                        ictcp_hue_degrees(target.at(step.signal.patch, display, false)));
  };
  const Vectors vectors{.points = others.size(),
                        .dimension = 1,
                        .at =
                            [&](std::span<const double> errors, std::span<double> v) {
                              const auto display = target.display_at(errors);
                              const double at_base = error_of(*base, errors, display);
                              for (std::size_t j = 0; j < others.size(); ++j)
                                v[j] = turn_between(error_of(*others[j], errors, display), at_base);
                            },
                        .own_sources = own_sources_of(others, target, study)};
  auto sampled =
      sample_vectors(study, vectors, inputs_of(row.steps, target), std::min(study.input.monte_carlo_draws, kMostDraws));
  sampled.problem.statistic = LengthStatistic::largest;
  auto f = new_finding(quantity, {{"colour", row.name}}, method);
  for (const auto* s : row.steps) use_step(f, run, *s);
  target.use(f, run);
  set_length(f, length_interval(sampled.problem), sampled.sampling, study);
  const std::vector<double> none(study.light.sources.size(), 0.0);
  std::size_t worst = 0;
  for (std::size_t j = 0; j < others.size(); ++j) {
    const auto light = light_at(*others[j], none);
    if (std::fabs(sampled.problem.measured[j]) > std::fabs(sampled.problem.measured[worst])) worst = j;
    f.series.push_back({{"step", others[j]->key},
                        {"cdm2", light.Y},
                        {"hue_degrees", ictcp_hue_degrees(light)},
                        {"shift_degrees", sampled.problem.measured[j]}});
  }
  f.parts["step"] = others[worst]->key;
  f.parts["shift_as_read"] = sampled.problem.measured[worst];
  f.parts["base"] = base->key;
  out.push_back(std::move(f));
}

}  // namespace

void add_hue_findings(Findings& out, const Study& study, const RunLight& run) {
  const ColourTarget target(study, run);
  if (!target.known()) return;
  const auto method = target.method("hue-over-saturation", {"Rec. ITU-R BT.2100-3 (ICtCp)"});
  for (const auto& row : rows_of(run))
    add_row(out, study, run, target, row, row.steps.back(), "hue_linearity_error", method);
}

void add_clip_hue_findings(Findings& out, const Study& study, const RunLight& run) {
  const ColourTarget target(study, run);
  if (!target.known()) return;
  const auto method = target.method("hue-above-clip", {"Rec. ITU-R BT.2100-3 (ICtCp)"});
  for (const auto& row : rows_of(run))
    add_row(out, study, run, target, row, row.steps.front(), "clip_hue_shift", method);
}

}  // namespace provenit::evaluation
