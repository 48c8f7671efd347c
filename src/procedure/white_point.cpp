// White point: one white window, read several times.
// signals  "white": window of R' = G' = B' next to level_cdm2 (held below the expected peak), on black
// cost     settle + n readings
// source   Rec. ITU-R BT.2100-3, BT.709-6 (white D65 x 0.3127, y 0.3290); Report ITU-R BT.2408-8 s.2.1 (203 cd/m2)
#include <algorithm>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

class WhitePoint final : public Scripted {
 public:
  std::string id() const override { return "white_point"; }
  int version() const override { return 1; }
  std::string title() const override { return "White point"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (white D65)", "Report ITU-R BT.2408-8, s.2.1 (HDR Reference White, 203 cd/m2)"};
  }
  std::vector<std::string> quantities() const override {
    return {"white_u_prime", "white_v_prime", "white_delta_uv", "white_delta_e_itp_chromaticity",
            "white_cct",     "white_duv"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"repeats", 3, 1, 100},
                        {"max_repeats", 10, 1, 100},
                        {"level_cdm2", 203.0, 0.1, 10000},
                        {"window_percent", 10.0, 0.1, 100}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    const double level = std::min(setting.number("level_cdm2"), setting.context.expected_peak_cdm2);
    const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
    if (!code) return tl::unexpected(code.error());
    return next_in_passes(setting, {{"white", window(encoding, *code, setting.number("window_percent")), "white"}});
  }
};

}  // namespace

std::unique_ptr<Procedure> make_white_point() {
  return std::make_unique<WhitePoint>();
}

}  // namespace provenit::procedure
