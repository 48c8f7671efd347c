// Peak luminance by window area. The areas are read in rising order, so that what came before has always heated the
// panel and charged its limiter less than what is read now; after large areas the display rests on black.
// signals  "window_<percent>": centred window of the highest code on black; 100 is the full field
// cost     areas x (settle + reading) + rests on black, per pass
// source   ICDM IDMS, window (box) luminance against area, luminance loading (names from memory, sections not opened);
//          the areas and the order are ours
#include <fmt/format.h>

#include <algorithm>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

class WindowPeak final : public Scripted {
 public:
  std::string id() const override { return "window_peak"; }
  int version() const override { return 1; }
  std::string title() const override { return "Peak luminance by window area"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, window luminance against area (name from memory; section not opened)"};
  }
  std::vector<std::string> quantities() const override { return {"peak_luminance", "loading", "sequential_contrast"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"settle_s", 5.0, 0, 600},
                        {"max_repeats", 3, 1, 100},
                        {"areas_percent", {1, 2, 5, 10, 25, 50, 75, 100}, 0.1, 100}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    auto areas = setting.parameters["areas_percent"].get<std::vector<double>>();
    std::ranges::sort(areas);
    areas.erase(std::unique(areas.begin(), areas.end()), areas.end());
    std::vector<Patch> pass;
    for (double area : areas)
      pass.push_back({"window_" + number_text(area), window(encoding, signal::peak_code(encoding), area),
                      fmt::format("window {} %", number_text(area))});
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_window_peak() {
  return std::make_unique<WindowPeak>();
}

}  // namespace provenit::procedure
