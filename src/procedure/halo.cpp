// Halo: black beside a bright window, by distance from its edge, and in the letterbox bar beside it.
// signals  "object" and "black_<percent of the width>": a centred white window on black; the meter looks at its middle,
//          and to the right of its right edge
//          "bar_object", "bar": the same window moved up until it touches a black bar of bar_percent of the height at
//          the top edge; the meter looks at its middle, and at the middle of the bar above it
// cost     places x (move + settle + reading) + rests on black
// source   black against distance from a bright patch: common practice, no source
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

class Halo final : public Scripted {
 public:
  std::string id() const override { return "halo"; }
  int version() const override { return 1; }
  std::string title() const override { return "Halo around a bright window"; }
  std::vector<std::string> sources() const override {
    return {"This project (docs/methods/halo.md); black against distance is common practice, no source"};
  }
  std::vector<std::string> quantities() const override {
    return {"halo_luminance", "halo_half_distance", "halo_bar_share"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"reference_interval_s", 300.0, 1, 36000},
                        {"max_bright_dwell_s", 120.0, 1, 3600},
                        {"repeats", 2, 1, 100},
                        {"max_repeats", 2, 1, 100},
                        {"window_percent", 4.0, 0.1, 36},
                        {"distances_percent", {2, 3, 4, 6, 8, 12, 18, 28}, 0.5, 45},
                        {"bar_percent", 12.8, 2, 40},
                        kMoveParameter});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    const double half = std::sqrt(setting.number("window_percent") / 100) / 2;
    const double bar = setting.number("bar_percent") / 100;
    auto distances = setting.parameters["distances_percent"].get<std::vector<double>>();
    std::ranges::sort(distances);
    distances.erase(std::unique(distances.begin(), distances.end()), distances.end());
    if (0.5 + half + distances.back() / 100 > 1)
      return fail(ErrorCode::out_of_range,
                  fmt::format("halo: {} % from the window's edge lies beyond the picture", distances.back()),
                  fmt::format("Give distances up to {:.4g} %.", 100 * (0.5 - half)), {.field = "distances_percent"});
    if (bar + 2 * half > 1)
      return fail(ErrorCode::out_of_range, "halo: bar and window are higher than the picture",
                  "Give a lower bar or a smaller window.", {.field = "bar_percent"});
    const auto centred = window(encoding, signal::peak_code(encoding), setting.number("window_percent"));
    auto moved = centred;
    moved.geometry.centre_y = bar + half;
    std::vector<Patch> pass{{"object", centred, "the window itself"}};
    for (const double d : distances)
      pass.push_back({"black_" + number_text(d),
                      centred,
                      fmt::format("black, {} % of the width from the window's edge", number_text(d)),
                      {.x = 0.5 + half + d / 100}});
    pass.push_back({"bar", moved, "the letterbox bar next to the window", {.y = bar / 2}});
    pass.push_back({"bar_object", moved, "the window next to the bar", {.y = bar + half}});
    auto next = next_by_place(setting, pass);
    // What lies beside the window is as dark as the display makes it.
    if (next && (next->key == "bar" || next->key.starts_with("black_")))
      next->expected_cdm2 = setting.context.expected_black_cdm2;
    return next;
  }
};

}  // namespace

std::unique_ptr<Procedure> make_halo() {
  return std::make_unique<Halo>();
}

}  // namespace provenit::procedure
