#pragma once
// The display's own controls, as its menu names them: gains, offsets, points of its greyscale.
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::instrument {

/// Where one control stands, or is to stand.
struct ControlSetting {
  std::string name;
  double value = 0;
  friend bool operator==(const ControlSetting&, const ControlSetting&) = default;
};
using ControlSettings = std::vector<ControlSetting>;

/// A control, where the display itself says what it has.
struct DisplayControl {
  std::string name;
  double lowest = 0, highest = 100, step = 1;
  double value = 0;  ///< now
  friend bool operator==(const DisplayControl&, const DisplayControl&) = default;
};

/// [["Red gain", 50], ...], as readings carry it (ReadingRecord::context, key "controls"): in the order of the run.
[[nodiscard]] nlohmann::json to_json(const ControlSettings& settings);
/// Errors: invalid_input for anything else, a name twice, a value that is no number.
[[nodiscard]] Result<ControlSettings> control_settings_from_json(const nlohmann::json& json);
/// For people: "Red gain 50, Green gain 48".
[[nodiscard]] std::string describe(const ControlSettings& settings);
/// "Red gain = 53" or "Red gain 53": what somebody types who set another value than was asked for.
/// Errors: invalid_input for no number, or a name that is none of `known`.
[[nodiscard]] Result<ControlSetting> parse_control_setting(std::string_view text, const ControlSettings& known);

}  // namespace provenit::instrument
