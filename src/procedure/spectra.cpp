// Spectra of the primaries and of white: peaks, widths, what kind of emitters they come from, white by observer.
// signals  "red", "green", "blue": windows of one channel with the code it has in the white of level_cdm2; "white"
// cost     4 x (settle + reading) per pass; needs an instrument that reads spectra
// source   CIE 15:2018 (XYZ from a spectrum); ISO/CIE 11664-1, CIE 170-2:2015 (observers). Method ours
#include <algorithm>
#include <array>

#include "colour_codes_internal.h"
#include "procedures_internal.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

class Spectra final : public Scripted {
 public:
  std::string id() const override { return "spectra"; }
  int version() const override { return 1; }
  std::string title() const override { return "Spectra of primaries and white"; }
  std::vector<std::string> sources() const override {
    return {"CIE 15:2018", "CIE 170-2:2015 (observers)", "This project (docs/methods/spectra.md)"};
  }
  std::vector<std::string> quantities() const override {
    return {"peak_wavelength", "peak_width", "emitter_class", "white_delta_uv_by_observer"};
  }
  bool needs_spectrum() const override { return true; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"repeats", 3, 1, 100},
                        {"max_repeats", 5, 1, 100},
                        {"level_cdm2", 203.0, 0.1, 10000},
                        {"window_percent", 10.0, 0.1, 100},
                        {"bandwidth_nm", 5.0, 0, 50},
                        {"wavelength_standard_nm", 0.3, 0, 10}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    const double level = std::min(setting.number("level_cdm2"), setting.context.expected_peak_cdm2);
    const auto white = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
    if (!white) return tl::unexpected(white.error());
    constexpr std::array names{"red", "green", "blue"};
    std::vector<Patch> pass;
    for (std::size_t c = 0; c < names.size(); ++c) {
      auto code = signal::black_code(encoding);
      code.code[c] = white->code[c];
      pass.push_back(colour_patch(setting, names[c], code, names[c]));
    }
    pass.push_back(colour_patch(setting, "white", *white, "white"));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_spectra() {
  return std::make_unique<Spectra>();
}

}  // namespace provenit::procedure
