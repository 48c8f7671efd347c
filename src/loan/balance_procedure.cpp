#include "balance_procedure.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "provenit/base/text.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"

namespace provenit::loan {
namespace {

using correct::BalanceMove;
using correct::BalanceVisit;
using procedure::Step;

constexpr std::array kMoves{BalanceMove::start, BalanceMove::probe, BalanceMove::proposal, BalanceMove::back};

/// "probe_3_level_2": what the third setting was for, and which level was read.
struct StepKey {
  BalanceMove move = BalanceMove::start;
  std::size_t visit = 0, level = 0;
  [[nodiscard]] std::string text() const {
    return fmt::format("{}_{}_level_{}", correct::name_of(move), visit + 1, level + 1);
  }
  static std::optional<StepKey> of(std::string_view text) {
    const auto parts = split(text, '_');
    if (parts.size() != 4 || parts[2] != "level") return std::nullopt;
    const auto move = std::ranges::find(kMoves, parts[0], [](BalanceMove m) { return std::string_view(name_of(m)); });
    const auto visit = parse_integer(parts[1]), level = parse_integer(parts[3]);
    if (move == kMoves.end() || !visit || !level || *visit < 1 || *level < 1) return std::nullopt;
    return StepKey{*move, static_cast<std::size_t>(*visit - 1), static_cast<std::size_t>(*level - 1)};
  }
};

signal::Signal grey(const procedure::Context& context, double percent) {
  signal::Signal out{.encoding = context.encoding,
                     .patch = signal::grey_code(context.encoding, colour::Signal<>{.value = percent / 100}),
                     .surround = signal::black_code(context.encoding),
                     .geometry = {}};
  const double window = context.parameters.value("window_percent", 10.0);
  if (window >= 100)
    out.surround = out.patch;
  else
    out.geometry = {.shape = signal::Shape::window, .area_fraction = window / 100};
  return out;
}

tl::unexpected<Error> wrong_form(const std::string& key) {
  return fail(ErrorCode::invalid_input, "balance: '" + key + "' is not of its form", "See docs/correction.md.",
              {.field = key});
}

Result<std::vector<correct::Control>> controls_in(const nlohmann::json& json) {
  std::vector<correct::Control> out;
  for (const auto& c : json) {
    if (!c.is_object() || !c.contains("name") || !c["name"].is_string()) return wrong_form("controls");
    for (const char* key : {"lowest", "highest", "step"})
      if (!c.contains(key) || !c[key].is_number()) return wrong_form("controls");
    out.push_back(
        {c["name"].get<std::string>(), c["lowest"].get<double>(), c["highest"].get<double>(), c["step"].get<double>()});
  }
  return out;
}

Result<std::vector<double>> numbers_in(const nlohmann::json& json, const char* key) {
  std::vector<double> out;
  for (const auto& v : json) {
    if (!v.is_number()) return wrong_form(key);
    out.push_back(v.get<double>());
  }
  return out;
}

}  // namespace

std::string BalanceProcedure::caution() const {
  return "static greys stay on while they are read; before the controls are set, bright ones go to black. Readings "
         "taken "
         "before describe the display as it was";
}

nlohmann::json BalanceProcedure::default_parameters() const {
  const correct::BalanceTask task;
  return {{"controls", nlohmann::json::array()},
          {"start", nlohmann::json::array()},
          {"levels_percent", nlohmann::json::array({20.0, 80.0})},
          {"white", nlohmann::json::array({0.3127, 0.3290})},
          {"luminance", false},
          {"tolerance_uv", task.tolerance.uv},
          {"tolerance_luminance_percent", 100 * task.tolerance.luminance_relative},
          {"tolerance_itp", 0.0},
          {"window_percent", 10.0},
          {"settle_s", 2.0},
          {"most_settings", task.most_settings},
          {"most_repeats", task.most_repeats}};
}

Result<correct::BalanceTask> BalanceProcedure::task_of(const procedure::Context& context) {
  const auto& p = context.parameters;
  correct::BalanceTask task;
  auto controls = controls_in(p["controls"]);
  if (!controls) return tl::unexpected(controls.error());
  task.controls = std::move(*controls);
  const auto start = numbers_in(p["start"], "start"), levels = numbers_in(p["levels_percent"], "levels_percent"),
             white = numbers_in(p["white"], "white");
  for (const auto* list : {&start, &levels, &white})
    if (!*list) return tl::unexpected(list->error());
  if (white->size() != 2) return wrong_form("white");
  task.start = *start;
  task.tolerance = {.uv = p["tolerance_uv"].get<double>(),
                    .luminance_relative = p["tolerance_luminance_percent"].get<double>() / 100,
                    .itp = {}};
  if (const double itp = p["tolerance_itp"].get<double>(); itp != 0) task.tolerance.itp = itp;
  task.most_settings = p["most_settings"].get<int>();
  task.most_repeats = p["most_repeats"].get<int>();
  const double window = p["window_percent"].get<double>(), settle = p["settle_s"].get<double>();
  if (!(window > 0 && window <= 100) || !(settle >= 0 && settle <= 600))
    return fail(ErrorCode::out_of_range, fmt::format("balance: a window of {} %, settling for {} s", window, settle),
                "Give a window from above 0 to 100 %, and 0 to 600 s.", {.field = "window_percent"});
  for (const double percent : *levels) {
    if (!(percent > 0 && percent <= 100))
      return fail(ErrorCode::out_of_range, fmt::format("balance: a level of {} % of the signal", percent),
                  "Give levels above 0, up to 100 %.", {.field = "levels_percent"});
    correct::BalanceLevel level{
        .name = fmt::format("{:.6g} %", percent), .white = {.x = (*white)[0], .y = (*white)[1]}, .luminance_cdm2 = {}};
    if (p["luminance"].get<bool>() || task.tolerance.itp)
      level.luminance_cdm2 =
          procedure::ideal_luminance_cdm2(grey(context, percent), context.encoding.nominal_peak_cdm2);
    task.levels.push_back(std::move(level));
  }
  return task;
}

Result<std::vector<BalanceVisit>> visits_of(const correct::BalanceTask& task,
                                            std::span<const store::ReadingRecord> readings,
                                            const evaluation::RunLight* light) {
  std::vector<BalanceVisit> out;
  for (const auto& reading : readings) {
    const auto key = StepKey::of(reading.step);
    const auto controls = instrument::control_settings_from_json(reading.context.value("controls", nlohmann::json()));
    const bool known = key && key->level < task.levels.size() && key->visit <= out.size() && controls &&
                       controls->size() == task.controls.size();
    const auto* step = light != nullptr ? light->find(reading.step) : nullptr;
    if (!known || step == nullptr)
      return fail(ErrorCode::invalid_input,
                  fmt::format("the reading of '{}' is none of a balance with these controls", reading.step),
                  "Begin a new run with --again.", {.reading = reading.id});
    if (key->visit == out.size()) {
      BalanceVisit visit{.settings = {}, .move = key->move, .levels = {}};
      for (const auto& setting : *controls) visit.settings.push_back(setting.value);
      visit.levels.resize(task.levels.size());
      out.push_back(std::move(visit));
    }
    auto& level = out[key->visit].levels[key->level];
    level.light = step->light;
    ++level.readings;
  }
  return out;
}

Result<correct::BalanceStep> BalanceProcedure::step_of(const correct::BalanceTask& task,
                                                       const procedure::Context& context,
                                                       std::span<const store::ReadingRecord> readings) const {
  if (readings.empty()) return correct::next_balance_step(task, {}, {}, {});
  const std::array<evaluation::RunData, 1> run{
      {{.run = {.procedure = id()}, .readings = {readings.begin(), readings.end()}}}};
  const auto light = evaluation::model_light(run, {.encoding = context.encoding,
                                                   .certificate = basis_.certificate,
                                                   .capabilities = context.capabilities,
                                                   .matrix = basis_.matrix});
  if (!light) return tl::unexpected(light.error());
  const auto visits = visits_of(task, readings, light->find(id()));
  if (!visits) return tl::unexpected(visits.error());
  std::vector<colour::SourceId> common;
  for (const auto& source : light->instrument) common.push_back(source.id);
  common.insert(common.end(), light->matrix.begin(), light->matrix.end());
  return correct::next_balance_step(task, *visits, light->sources, common);
}

Result<std::optional<Step>> BalanceProcedure::next(const procedure::Context& context,
                                                   std::span<const store::ReadingRecord> readings) const {
  const auto task = task_of(context);
  if (!task) return tl::unexpected(task.error());
  const auto next = step_of(*task, context, readings);
  if (!next) return tl::unexpected(next.error());
  if (next->finished) return std::optional<Step>{};
  std::size_t visits = 0;
  if (!readings.empty())
    if (const auto last = StepKey::of(readings.back().step)) visits = last->visit + 1;
  const StepKey key{next->move, next->new_visit ? visits : visits - 1, next->level};
  Step step{.key = key.text(),
            .signal = grey(context, context.parameters["levels_percent"][next->level].get<double>()),
            .settle = {context.parameters["settle_s"].get<double>()}};
  for (std::size_t j = 0; j < task->controls.size(); ++j)
    step.controls.push_back({.name = task->controls[j].name, .value = next->settings[j]});
  step.expected_cdm2 =
      std::max(procedure::ideal_luminance_cdm2(step.signal, context.expected_peak_cdm2), context.expected_black_cdm2);
  step.why = fmt::format("setting {}, {}: {}", key.visit + 1, task->levels[next->level].name, next->why);
  return std::optional<Step>{std::move(step)};
}

}  // namespace provenit::loan
