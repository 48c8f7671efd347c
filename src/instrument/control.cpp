#include "provenit/instrument/control.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/instrument.h"

namespace provenit::instrument {

nlohmann::json to_json(const ControlSettings& settings) {
  auto out = nlohmann::json::array();
  for (const auto& s : settings) out.push_back(nlohmann::json::array({s.name, s.value}));
  return out;
}

Result<ControlSettings> control_settings_from_json(const nlohmann::json& json) {
  const auto refuse = [](const std::string& what) {
    return fail(ErrorCode::invalid_input, "settings of the display's controls: " + what,
                "Give pairs of name and number.", {.field = "controls"});
  };
  if (!json.is_array()) return refuse("no list");
  ControlSettings out;
  for (const auto& pair : json) {
    if (!pair.is_array() || pair.size() != 2 || !pair[0].is_string() || !pair[1].is_number())
      return refuse("an entry is no pair of name and number");
    ControlSetting setting{.name = pair[0].get<std::string>(), .value = pair[1].get<double>()};
    if (!std::isfinite(setting.value)) return refuse("'" + setting.name + "' is no number");
    if (std::ranges::find(out, setting.name, &ControlSetting::name) != out.end())
      return refuse("'" + setting.name + "' stands there twice");
    out.push_back(std::move(setting));
  }
  return out;
}

std::string describe(const ControlSettings& settings) {
  std::string out;
  for (const auto& s : settings) out += fmt::format("{}{} {:.6g}", out.empty() ? "" : ", ", s.name, s.value);
  return out;
}

Result<ControlSetting> parse_control_setting(std::string_view text, const ControlSettings& known) {
  const std::string_view line = trim(text);
  const auto last = line.find_last_of(" \t=");
  const auto advice = "Type the control's name, = and its value, such as: " + describe(known).substr(0, 40);
  if (last == std::string_view::npos)
    return fail(ErrorCode::invalid_input, fmt::format("'{}' is no setting", line), advice);
  const auto number = parse_cell(line.substr(last + 1));
  auto name = trim(line.substr(0, last));
  if (name.ends_with('=')) name = trim(name.substr(0, name.size() - 1));
  if (!number || !std::isfinite(number->value))
    return fail(ErrorCode::invalid_input, fmt::format("'{}' is no number", line.substr(last + 1)), advice);
  if (std::ranges::find(known, name, &ControlSetting::name) == known.end())
    return fail(ErrorCode::invalid_input, fmt::format("there is no control '{}'", name), advice);
  return ControlSetting{.name = std::string(name), .value = number->value};
}

Result<ControlSettings> Presenter::set_controls(const ControlSettings& wanted) {
  if (wanted.empty()) return wanted;
  return fail(ErrorCode::unsupported, "nothing here can set '" + wanted.front().name + "' of the display",
              "Use a presenter that can ask a person to.", {.field = "controls"});
}

}  // namespace provenit::instrument
