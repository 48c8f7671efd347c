// Off-axis: one grey window, read head on and from the sides.
// signals  a window of the grey next to level_cdm2 on black, the same for all; the meter moves
//          "head_on", "left_<degrees>", "right_<degrees>", "above_<degrees>", "below_<degrees>";
//          "reference": the same window head on, at the start, after reference_interval_s, and at the end
// cost     angles x (move + reading) + 2 moves for each return
// source   luminance and u'v' against angle: common practice, no source; IDMS has viewing-angle methods (section not
//          opened)
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

Result<signal::Signal> patch_of(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const double level = std::min(setting.number("level_cdm2"), setting.context.expected_peak_cdm2);
  const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
  if (!code) return tl::unexpected(code.error());
  return window(encoding, *code, setting.number("window_percent"));
}

std::vector<double> angles(const Setting& setting, const char* key) {
  auto list = setting.parameters[key].get<std::vector<double>>();
  std::ranges::sort(list);
  list.erase(std::unique(list.begin(), list.end()), list.end());
  std::erase(list, 0.0);
  return list;
}

class OffAxis final : public Scripted {
 public:
  std::string id() const override { return "off_axis"; }
  int version() const override { return 1; }
  std::string title() const override { return "Off-axis light"; }
  std::vector<std::string> sources() const override {
    return {"This project (docs/methods/off_axis.md); light against angle is common practice, no source"};
  }
  std::vector<std::string> quantities() const override { return {"off_axis_luminance", "off_axis_delta_uv"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"repeats", 3, 1, 100},
                        {"max_repeats", 3, 1, 100},
                        {"reference_interval_s", 300.0, 1, 36000},
                        {"max_bright_dwell_s", 3600.0, 1, 36000},
                        {"level_cdm2", 100.0, 0.1, 10000},
                        {"window_percent", 25.0, 0.1, 100},
                        {"horizontal_angles_deg", {-60, -45, -30, -15, 15, 30, 45, 60}, -85, 85},
                        {"vertical_angles_deg", {-30, -15, 15, 30}, -85, 85},
                        {"angle_u_deg", 0.5, 0, 10},
                        kMoveParameter});
  }
  Result<Step> reference(const Setting& setting) const override {
    auto shown = patch_of(setting);
    if (!shown) return tl::unexpected(shown.error());
    Step step = step_for(setting, {"reference", *shown, ""}, 0, false);
    step.why = "head on again, to follow drift";
    return step;
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    auto shown = patch_of(setting);
    if (!shown) return tl::unexpected(shown.error());
    std::vector<Patch> pass{{"head_on", *shown, "head on"}};
    const auto add = [&](const char* where, double angle, const instrument::Placement& placement) {
      pass.push_back({fmt::format("{}_{}", where, number_text(std::abs(angle))), *shown,
                      fmt::format("{} degrees {}", number_text(std::abs(angle)), where), placement});
    };
    for (const double angle : angles(setting, "horizontal_angles_deg"))
      add(angle < 0 ? "left" : "right", angle, {.horizontal_deg = angle});
    for (const double angle : angles(setting, "vertical_angles_deg"))
      add(angle < 0 ? "below" : "above", angle, {.vertical_deg = angle});
    return next_by_place(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_off_axis() {
  return std::make_unique<OffAxis>();
}

}  // namespace provenit::procedure
