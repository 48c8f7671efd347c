// Hue over saturation: the six hues from pale to full at one level of white.
// signals  "white", "black"; "<hue>_<saturation>": hue mixed with white in linear light, saturation in %, its largest
//          component at level_cdm2. Windows on black
// cost     (2 + 6 hues x saturations) x (settle + reading) per pass
// source   Rec. ITU-R BT.2100-3 (ICtCp), Report ITU-R BT.2408-8 s.2.1 (203 cd/m2). Steps are ours
#include <fmt/format.h>

#include <algorithm>

#include "colour_codes_internal.h"
#include "colours_internal.h"
#include "procedures_internal.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

class HueLinearity final : public Scripted {
 public:
  std::string id() const override { return "hue_linearity"; }
  int version() const override { return 1; }
  std::string title() const override { return "Hue over saturation"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (ICtCp)", "Report ITU-R BT.2408-8, s.2.1 (HDR Reference White, 203 cd/m2)"};
  }
  std::vector<std::string> quantities() const override { return {"hue_linearity_error"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"max_repeats", 3, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"level_cdm2", 203.0, 0.1, 10000},
                        {"saturations_percent", {25.0, 50.0, 75.0, 100.0}, 1, 100}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    auto pass = white_and_black(setting);
    const double level = std::min({setting.number("level_cdm2"), 0.8 * setting.context.expected_peak_cdm2,
                                   light_of(encoding, signal::peak_code(encoding)).g});
    auto saturations = setting.parameters["saturations_percent"].get<std::vector<double>>();
    std::ranges::sort(saturations);
    for (const auto& hue : six_hues(encoding.container))
      for (double percent : saturations)
        pass.push_back(colour_patch(setting, fmt::format("{}_{}", hue.name, number_text(percent)),
                                    code_of(encoding, with_largest(mixed_with_white(hue.light, percent / 100), level)),
                                    fmt::format("{}, saturation {} %", hue.name, percent)));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_hue_linearity() {
  return std::make_unique<HueLinearity>();
}

}  // namespace provenit::procedure
