// Tasks and visits that cannot be used, and the names of what is found.
#include <fmt/format.h>

#include <cmath>
#include <set>

#include "balance_internal.h"

namespace provenit::correct {
namespace balance {
namespace {

tl::unexpected<Error> refuse(ErrorCode code, std::string message, std::string advice, std::string field = {}) {
  return fail(code, std::move(message), std::move(advice), {.field = std::move(field)});
}

Result<void> check(const Control& c) {
  if (c.name.empty())
    return refuse(ErrorCode::invalid_input, "a control has no name", "Name it as the display's menu does.");
  const bool finite = std::isfinite(c.lowest) && std::isfinite(c.highest) && std::isfinite(c.step);
  if (!finite || !(c.step > 0) || !(c.highest - c.lowest >= c.step) || (c.highest - c.lowest) / c.step > 1e6)
    return refuse(
        ErrorCode::invalid_input,
        fmt::format("control '{}' from {} to {} in steps of {} cannot be turned", c.name, c.lowest, c.highest, c.step),
        "Give lowest, highest and step of its menu; at most a million steps.", c.name);
  return {};
}

Result<void> check_settings(const BalanceTask& task, const ControlSettings& settings, const std::string& whose) {
  if (settings.size() != task.controls.size())
    return refuse(ErrorCode::invalid_input,
                  fmt::format("{} has {} settings for {} controls", whose, settings.size(), task.controls.size()),
                  "Give one value for each control.");
  for (std::size_t j = 0; j < settings.size(); ++j) {
    const Control& c = task.controls[j];
    if (!(settings[j] >= c.lowest && settings[j] <= c.highest))
      return refuse(
          ErrorCode::invalid_input,
          fmt::format("{}: '{}' stands at {}, outside {} to {}", whose, c.name, settings[j], c.lowest, c.highest),
          "Give the setting as the menu shows it, or the control's right range.", c.name);
  }
  return {};
}

Result<void> check(const BalanceLevel& level, const BalanceTolerance& tolerance) {
  const auto& w = level.white;
  if (!(w.x > 0 && w.y > 0 && w.x + w.y < 1))
    return refuse(ErrorCode::invalid_input, fmt::format("white x {}, y {} is no chromaticity", w.x, w.y),
                  "Give CIE 1931 x, y; D65 is 0.3127, 0.3290.", level.name);
  if (level.luminance_cdm2 && !(*level.luminance_cdm2 > 0 && std::isfinite(*level.luminance_cdm2)))
    return refuse(ErrorCode::out_of_range, fmt::format("a luminance of {} cd/m2 is wanted", *level.luminance_cdm2),
                  "Give a level with light.", level.name);
  if (tolerance.itp && !level.luminance_cdm2)
    return refuse(ErrorCode::invalid_input, "Delta E ITP needs a luminance at every level",
                  "Give it, or a tolerance in u'v'.", level.name);
  return {};
}

}  // namespace

Result<void> check(const BalanceTask& task) {
  if (task.controls.empty() || task.controls.size() > kMostControls)
    return refuse(ErrorCode::invalid_input, fmt::format("{} controls", task.controls.size()),
                  fmt::format("Name 1 to {} of them.", kMostControls));
  if (task.levels.empty() || task.levels.size() > kMostLevels)
    return refuse(ErrorCode::invalid_input, fmt::format("{} levels", task.levels.size()),
                  fmt::format("Give 1 to {}.", kMostLevels));
  std::set<std::string> names;
  for (const auto& control : task.controls) {
    if (auto fine = check(control); !fine) return fine;
    if (!names.insert(control.name).second)
      return refuse(ErrorCode::invalid_input, fmt::format("two controls are named '{}'", control.name),
                    "Give each a name of its own.", control.name);
  }
  const auto& t = task.tolerance;
  for (const double value : {t.uv, t.luminance_relative, t.itp.value_or(1)})
    if (!(value > 0 && std::isfinite(value)))
      return refuse(ErrorCode::out_of_range, fmt::format("a tolerance of {}", value), "Give a tolerance above 0.");
  if (task.most_settings < 1 || task.most_repeats < 1)
    return refuse(ErrorCode::out_of_range, "no setting or no reading is allowed", "Allow at least one.");
  for (const auto& level : task.levels)
    if (auto fine = check(level, t); !fine) return fine;
  return check_settings(task, task.start, "the start");
}

Result<void> check(const BalanceTask& task, const BalanceVisit& visit, std::size_t number) {
  const auto name = fmt::format("setting {}", number + 1);
  if (auto fine = check_settings(task, visit.settings, name); !fine) return fine;
  if (visit.levels.size() != task.levels.size())
    return refuse(ErrorCode::invalid_input,
                  fmt::format("{} has {} levels of {}", name, visit.levels.size(), task.levels.size()),
                  "Give one entry for each level, read or not.");
  for (std::size_t l = 0; l < visit.levels.size(); ++l) {
    const auto& c = visit.levels[l].light;
    if (visit.levels[l].readings > 0 && !(isfinite(c.X) && isfinite(c.Y) && isfinite(c.Z)))
      return refuse(ErrorCode::invalid_input, fmt::format("{}: the reading is no number", name), "Read it again.",
                    task.levels[l].name);
  }
  return {};
}

}  // namespace balance

const char* name_of(BalanceMove move) {
  switch (move) {
    case BalanceMove::start:
      return "start";
    case BalanceMove::probe:
      return "probe";
    case BalanceMove::proposal:
      return "proposal";
    case BalanceMove::back:
      return "back";
  }
  return "";
}

const char* name_of(BalanceVerdict verdict) {
  switch (verdict) {
    case BalanceVerdict::within:
      return "within";
    case BalanceVerdict::undecided:
      return "undecided";
    case BalanceVerdict::out:
      return "out";
  }
  return "";
}

const char* name_of(BalanceLimit limit) {
  switch (limit) {
    case BalanceLimit::at_end:
      return "at_end";
    case BalanceLimit::step:
      return "step";
    case BalanceLimit::no_control:
      return "no_control";
    case BalanceLimit::noise:
      return "noise";
    case BalanceLimit::instrument:
      return "instrument";
    case BalanceLimit::settings:
      return "settings";
  }
  return "";
}

}  // namespace provenit::correct
