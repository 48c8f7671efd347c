// EOTF steps resolved: around a few levels every code is read, one after the other.
// signals  "white", "black"; "grey_<code>": window of that code on black; steps + 1 codes in a row, centred on the
//          code of each level
// cost     (2 + levels x (steps + 1)) x (settle + reading) per pass
// source   Rec. ITU-R BT.2100-3, BT.1886: what each code stands for. Method ours (common practice, no source)
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "colour_codes_internal.h"
#include "procedures_internal.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

class StepResolution final : public Scripted {
 public:
  std::string id() const override { return "step_resolution"; }
  int version() const override { return 1; }
  std::string title() const override { return "Steps resolved and bit depth"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (PQ and HLG EOTF)", "Rec. ITU-R BT.1886-0",
            "This project (docs/methods/step_resolution.md)"};
  }
  std::vector<std::string> quantities() const override { return {"steps_resolved", "effective_bits"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"repeats", 3, 1, 100},
                        {"max_repeats", 5, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"levels_cdm2", {1.0, 10.0, 100.0, 400.0}, 0.01, 10000},
                        {"steps", 8, 1, 64}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    const int black = signal::black_code(encoding).code[0], top = signal::peak_code(encoding).code[0];
    const int steps = std::min(setting.integer("steps"), top - black);
    std::set<int> codes;
    for (double level : setting.parameters["levels_cdm2"].get<std::vector<double>>()) {
      // Above it a display that clips softly has no steps of its own to show.
      if (level > 0.8 * setting.context.expected_peak_cdm2) continue;
      const auto centre = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
      if (!centre) return tl::unexpected(centre.error());
      const int first = std::clamp(centre->code[0] - steps / 2, black, top - steps);
      for (int code = first; code <= first + steps; ++code) codes.insert(code);
    }
    auto pass = white_and_black(setting);  // on which targets of HLG and BT.1886 depend
    for (int code : codes)
      pass.push_back(colour_patch(setting, fmt::format("grey_{}", code), {.code = {code, code, code}},
                                  fmt::format("grey {}", code)));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_step_resolution() {
  return std::make_unique<StepResolution>();
}

}  // namespace provenit::procedure
