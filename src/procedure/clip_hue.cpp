// Hue above the clip: colours driven from well below white's luminance to far above it.
// signals  "white", "black"; "<colour>_<share>": the colour's chromaticity with its largest component at share x white
// as
//          read, share in hundredths. Windows on black
// cost     (2 + 7 colours x levels) x (settle + reading) per pass
// source   Rec. ITU-R BT.2100-3 (ICtCp). Colours, levels and rule are ours (common practice, no source)
#include <fmt/format.h>

#include <algorithm>

#include "colour_codes_internal.h"
#include "colours_internal.h"
#include "procedures_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::procedure {
namespace {

constexpr double kMix = 0.9;          // saturation of the six hues, so that they lie inside most displays
constexpr double kMostOfLeast = 0.8;  // of white: a colour whose least component is driven above is going white

class ClipHue final : public Scripted {
 public:
  std::string id() const override { return "clip_hue"; }
  int version() const override { return 1; }
  std::string title() const override { return "Hue above the clip"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (ICtCp)", "This project (docs/methods/clip_hue.md)"};
  }
  std::vector<std::string> quantities() const override { return {"clip_hue_shift"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"max_repeats", 3, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"levels", {0.3, 1.0, 1.5, 2.5, 4.0}, 0.01, 20}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    auto pass = white_and_black(setting);
    const double white =
        std::min(setting.context.expected_peak_cdm2, light_of(encoding, signal::peak_code(encoding)).g);
    auto levels = setting.parameters["levels"].get<std::vector<double>>();
    std::ranges::sort(levels);
    for (const auto& colour : clip_colours(encoding.container))
      for (double level : levels) {
        const auto light = with_largest(mixed_with_white(colour.light, colour.fixed ? 1.0 : kMix), level * white);
        if (std::min({light.r, light.g, light.b}) > kMostOfLeast * white) continue;
        pass.push_back(colour_patch(setting, fmt::format("{}_{:03.0f}", colour.name, 100 * level),
                                    code_of(encoding, light), fmt::format("{} at {} of white", colour.name, level)));
      }
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_clip_hue() {
  return std::make_unique<ClipHue>();
}

}  // namespace provenit::procedure
