#pragma once
// How display and meter stand for a reading, apart from the signal: where on the picture the meter looks and from which
// angle, and whether the display's local dimming is on.
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"

namespace provenit::instrument {

/// Where the meter looks, and from where. The default is the centre of the picture, head on.
struct Placement {
  double x = 0.5, y = 0.5;  ///< shares of the picture's width and height, from the top left; [0, 1]
  /// Angle between the meter's line of sight and the normal of the screen, (-90, 90) degrees: positive where the meter
  /// stands to the right of the spot, or above it, as seen by a viewer.
  double horizontal_deg = 0, vertical_deg = 0;
  friend bool operator==(const Placement&, const Placement&) = default;
};

/// What moving the meter by hand takes when nobody has said otherwise. Common practice, no source.
inline constexpr Seconds kUsualMove{45};

/// Errors: out_of_range naming the field.
[[nodiscard]] Result<void> validate(const Placement& placement);
/// {"x", "y", "horizontal_deg", "vertical_deg"}, as readings carry it (ReadingRecord::context, key "placement").
[[nodiscard]] nlohmann::json to_json(const Placement& placement);
/// Errors: invalid_input for other keys or kinds of value, those of validate.
[[nodiscard]] Result<Placement> placement_from_json(const nlohmann::json& json);
/// For people: "the centre of the picture, head on"; "10 % across and 90 % down the picture, head on"; "the centre of
/// the picture, from 30 degrees to the right".
[[nodiscard]] std::string describe(const Placement& placement);

/// A mode of the display that its menu sets, and no signal.
enum class LocalDimming {
  as_found,  ///< as the evaluator set the display up; after a change, back to that
  on,
  off
};
[[nodiscard]] const char* name_of(LocalDimming mode);  ///< "as_found", "on", "off"
[[nodiscard]] std::optional<LocalDimming> local_dimming_from_name(std::string_view name);

}  // namespace provenit::instrument
