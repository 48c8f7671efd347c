// Primaries, white and black at one level: gamut, and whether red + green + blue make white.
// signals  "red", "green", "blue", "white", "black": windows on black. Each primary is asked for the light it has in
// the
//          white of level_cdm2: with PQ and BT.1886 that is the white's own code in one channel; with HLG, whose OOTF
//          couples the channels, a code of its own for each (so additivity_error means the same in all three)
// cost     5 x (settle + reading) per pass
// source   Rec. ITU-R BT.2100-3 (HLG OOTF); 5 measurements R G B K W for an additive display: industry paper, 2018
//          (second hand); ICDM IDMS, gamut area (name from memory)
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "procedures_internal.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr std::array<const char*, 3> kNames{"red", "green", "blue"};

/// The code that gives channel `channel` alone the light it has in the white whose code is `white`.
Result<int> primary_code(const signal::Encoding& encoding, int white, std::size_t channel) {
  if (encoding.transfer != signal::Transfer::hlg) return white;
  const colour::Luminance<> peak{.cdm2 = encoding.nominal_peak_cdm2};
  const colour::HlgDisplay<> display{
      .peak = peak, .black = {.cdm2 = 0}, .system_gamma = colour::hlg_system_gamma(peak)};
  const double light = colour::hlg_eotf_grey(signal::signal_of(encoding, white), display).cdm2;
  colour::AbsoluteRgb<> alone{};
  (channel == 0 ? alone.r : channel == 1 ? alone.g : alone.b) = light;
  const auto wanted = colour::hlg_inverse_eotf(alone, display);
  const double value = channel == 0 ? wanted.r : channel == 1 ? wanted.g : wanted.b;
  if (value > 1)
    return fail(ErrorCode::out_of_range,
                fmt::format("HLG cannot show {} alone as bright as in a white of {:.0f} cd/m2", kNames[channel], light),
                "Lower level_cdm2.", {.field = "level_cdm2"});
  return signal::grey_code(encoding, colour::Signal<>{.value = value}).code[channel];
}

class Primaries final : public Scripted {
 public:
  std::string id() const override { return "primaries"; }
  int version() const override { return 1; }
  std::string title() const override { return "Primaries and gamut"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, gamut area (name from memory; section not opened)", "Rec. ITU-R BT.2100-3 (HLG OOTF)"};
  }
  std::vector<std::string> quantities() const override {
    return {"primary_delta_uv", "gamut_coverage", "gamut_area_ratio", "additivity_error"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common(
        {{"max_repeats", 5, 1, 100}, {"level_cdm2", 203.0, 0.1, 10000}, {"window_percent", 10.0, 0.1, 100}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    const double level = std::min(setting.number("level_cdm2"), setting.context.expected_peak_cdm2);
    const double area = setting.number("window_percent");
    const auto white = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
    if (!white) return tl::unexpected(white.error());
    const auto black = signal::black_code(encoding);
    std::vector<Patch> pass;
    for (std::size_t channel = 0; channel < kNames.size(); ++channel) {
      const auto code = primary_code(encoding, white->code[channel], channel);
      if (!code) return tl::unexpected(code.error());
      signal::CodeRgb patch = black;
      patch.code[channel] = *code;
      pass.push_back({kNames[channel], window(encoding, patch, area), kNames[channel]});
    }
    pass.push_back({"white", window(encoding, *white, area), "white"});
    pass.push_back({"black", window(encoding, black, area), "black"});
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_primaries() {
  return std::make_unique<Primaries>();
}

}  // namespace provenit::procedure
