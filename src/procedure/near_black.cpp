// Near black: greys of the lowest codes, with black itself.
// signals  "black"; "grey_<code>": window of that code on black, for codes_above_black steps of a 10-bit code above
//          black up to highest_cdm2. "white" too, as HLG and BT.1886 need the display's peak
// cost     codes x (settle + reading) per pass; readings are long in this light
// source   Rec. ITU-R BT.2100-3, BT.1886: what each code stands for; near-black detail as in the principle of Rec.
// ITU-R
//          BT.814-4 (second hand). Codes are ours
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "colour_codes_internal.h"
#include "procedures_internal.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

class NearBlack final : public Scripted {
 public:
  std::string id() const override { return "near_black"; }
  int version() const override { return 1; }
  std::string title() const override { return "Near black"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (PQ and HLG EOTF)", "Rec. ITU-R BT.1886-0",
            "Rec. ITU-R BT.814-4 (principle; second hand)"};
  }
  std::vector<std::string> quantities() const override {
    return {"near_black_mean_luminance_part", "near_black_max_delta_uv", "near_black_first_code",
            "near_black_reversals"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"settle_s", 3.0, 0, 600},
                        {"repeats", 3, 1, 100},
                        {"max_repeats", 5, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"highest_cdm2", 1.0, 0.001, 10},
                        {"codes_above_black", {1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 80, 96, 112, 128}, 1, 1000}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    auto pass = white_and_black(setting);
    std::swap(pass[0], pass[1]);  // from dark to bright
    const Patch white = pass[1];
    pass.pop_back();
    const int black = signal::black_code(encoding).code[0], top = signal::peak_code(encoding).code[0];
    const double width = encoding.bits >= 10 ? 1 << (encoding.bits - 10) : 0.25;
    int last = black;
    for (double above : setting.parameters["codes_above_black"].get<std::vector<double>>()) {
      const int code = black + std::max(1, static_cast<int>(std::lround(above * width)));
      if (code <= last || code > top) continue;
      const signal::CodeRgb grey{.code = {code, code, code}};
      if (light_of(encoding, grey).g > setting.number("highest_cdm2")) break;
      pass.push_back(colour_patch(setting, fmt::format("grey_{}", code), grey, fmt::format("grey {}", code)));
      last = code;
    }
    pass.push_back(white);
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_near_black() {
  return std::make_unique<NearBlack>();
}

}  // namespace provenit::procedure
