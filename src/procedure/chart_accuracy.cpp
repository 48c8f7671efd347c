// Colour accuracy on surface colours: the patches of the surface-colour chart (test picture "surface_chart"), one after
// the other in a window, the perfect diffuser at reference white.
// signals  "white", "black"; "chart_<n>": patch n of the chart in the encoding at hand. Windows on black
// cost     (2 + patches) x (settle + reading) per pass; 96 patches at least, 114 in BT.2020
// source   CIE 13.3-1995 table 1 under D65; Newhall, Nickerson, Judd, JOSA 33, 1943 (Munsell renotation); Report ITU-R
//          BT.2408-8 s.2.1 (203 cd/m2). The choice of patches is ours
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <mutex>
#include <utility>

#include "colour_codes_internal.h"
#include "procedures_internal.h"
#include "provenit/signal/test_picture.h"

namespace provenit::procedure {
namespace {

struct ChartColour {
  std::string name;
  signal::CodeRgb code;
};

Result<std::vector<ChartColour>> make_chart(const signal::Encoding& encoding, double white_cdm2) {
  const auto picture = signal::TestPicture::make({.key = "surface_chart",
                                                  .parameters = {{"white_cdm2", white_cdm2}},
                                                  .encoding = encoding,
                                                  .size = {.width = 1920, .height = 1080}});
  if (!picture) return tl::unexpected(picture.error());
  std::vector<ChartColour> chart;
  for (auto& place : picture->places(0)) chart.push_back({std::move(place.name), place.code});
  return chart;
}

/// The chart is asked for at every step: each is made once.
Result<std::vector<ChartColour>> chart_of(const signal::Encoding& encoding, double white_cdm2) {
  static std::mutex guard;
  static std::map<std::string, std::vector<ChartColour>> known;
  const std::scoped_lock lock(guard);
  const auto key = fmt::format("{} {}", signal::to_json(encoding).dump(), white_cdm2);
  if (const auto found = known.find(key); found != known.end()) return found->second;
  auto chart = make_chart(encoding, white_cdm2);
  if (chart) known.emplace(key, *chart);
  return chart;
}

class ChartAccuracy final : public Scripted {
 public:
  std::string id() const override { return "chart_accuracy"; }
  int version() const override { return 1; }
  std::string title() const override { return "Accuracy on surface colours"; }
  std::vector<std::string> sources() const override {
    return {"CIE 13.3-1995, table 1 (test colour samples)",
            "Newhall, Nickerson, Judd, JOSA 33, 1943 (Munsell renotation)", "Rec. ITU-R BT.2124-0 (01/2019)",
            "ISO/CIE 11664-6:2014 (CIEDE2000)", "Report ITU-R BT.2408-8, s.2.1 (HDR Reference White, 203 cd/m2)"};
  }
  std::vector<std::string> quantities() const override {
    return {"chart_mean_delta_e_itp", "chart_p95_delta_e_itp", "chart_max_delta_e_itp",
            "chart_mean_ciede2000",   "chart_p95_ciede2000",   "chart_max_ciede2000"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common(
        {{"max_repeats", 3, 1, 100}, {"white_cdm2", 203.0, 1, 10000}, {"window_percent", 10.0, 0.1, 100}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    // Steered by what is expected: the patches of a run must not change when white has been read.
    const double white = std::min({setting.number("white_cdm2"), setting.context.expected_peak_cdm2,
                                   encoding.transfer == signal::Transfer::pq ? 10000.0 : encoding.nominal_peak_cdm2});
    const auto chart = chart_of(encoding, white);
    if (!chart) return tl::unexpected(chart.error());
    auto pass = white_and_black(setting);
    for (std::size_t i = 0; i < chart->size(); ++i)
      pass.push_back(colour_patch(setting, fmt::format("chart_{:03}", i + 1), (*chart)[i].code, (*chart)[i].name));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_chart_accuracy() {
  return std::make_unique<ChartAccuracy>();
}

}  // namespace provenit::procedure
