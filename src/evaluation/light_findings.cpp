// Luminances and their ratios: black, windows, loading, sequential contrast.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "findings_internal.h"
#include "provenit/base/text.h"

namespace provenit::evaluation {
namespace {

const Method kBlackMethod{"full-field-black", 1, {"This project (docs/methods/black_level.md)", "JCGM 100:2008"}};
const Method kWindowMethod{"window-luminance", 1, {"This project (docs/methods/window_peak.md)", "JCGM 100:2008"}};
const Method kLoading{"luminance-loading", 1, {"This project (docs/methods/window_peak.md)", "JCGM 100:2008"}};
const Method kSequential{
    "sequential-contrast", 1, {"This project (docs/methods/black_level.md)", "JCGM 100:2008", "Fieller 1954"}};

struct Window {
  double percent = 0;
  const StepLight* step = nullptr;
};

// Steps "window_<percent>" in rising order of area.
std::vector<Window> windows_of(const RunLight& run) {
  std::vector<Window> out;
  for (const auto& step : run.steps) {
    constexpr std::string_view prefix = "window_";
    if (!std::string_view(step.key).starts_with(prefix)) continue;
    if (const auto percent = parse_double(std::string_view(step.key).substr(prefix.size())))
      out.push_back({*percent, &step});
  }
  std::ranges::sort(out, {}, &Window::percent);
  return out;
}

}  // namespace

void add_black_findings(Findings& out, const Study& study, const RunLight& run) {
  const StepLight* black = run.find("black");
  if (black == nullptr) return;
  auto f = new_finding("black_luminance", nlohmann::json::object(), kBlackMethod);
  use_step(f, run, *black);
  set_linear(f, black->light.Y, study);
  keep_above_zero(f);
  out.push_back(std::move(f));
}

void add_peak_findings(Findings& out, const Study& study, const RunLight& run) {
  const auto windows = windows_of(run);
  const auto full = std::ranges::find(windows, 100.0, &Window::percent);
  for (const auto& [percent, step] : windows) {
    auto f = new_finding("peak_luminance", number_condition("window_percent", percent), kWindowMethod);
    use_step(f, run, *step);
    set_linear(f, step->light.Y, study);
    keep_above_zero(f);
    out.push_back(std::move(f));
  }
  if (full == windows.end() || !(full->step->light.Y > 0.0)) return;
  for (const auto& [percent, step] : windows) {
    if (percent == 100) continue;
    auto f = new_finding("loading", number_condition("window_percent", percent), kLoading);
    use_step(f, run, *step);
    use_step(f, run, *full->step);
    set_linear(f, 100.0 * (step->light.Y / full->step->light.Y - 1.0), study);
    out.push_back(std::move(f));
  }
}

void add_contrast_findings(Findings& out, const Study& study) {
  const RunLight* dark = study.light.find("black_level");
  const RunLight* bright = study.light.find("window_peak");
  const StepLight* black = dark == nullptr ? nullptr : dark->find("black");
  if (black == nullptr || bright == nullptr) return;
  for (const auto& [percent, step] : windows_of(*bright)) {
    auto f = new_finding("sequential_contrast", number_condition("window_percent", percent), kSequential);
    use_step(f, *bright, *step);
    use_step(f, *dark, *black);
    set_ratio(f, step->light.Y, black->light.Y, study);
    out.push_back(std::move(f));
  }
}

}  // namespace provenit::evaluation
