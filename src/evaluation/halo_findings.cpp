// Halo: black beside a bright window, the distance over which it falls by half, and its share in a letterbox bar.
#include <algorithm>
#include <cmath>
#include <optional>

#include "findings_internal.h"
#include "provenit/base/text.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

constexpr const char* kBetween = "interpolation between distances";
const Method kLuminance{"halo-luminance", 1, {"This project (docs/methods/halo.md)", "JCGM 100:2008"}};
const Method kHalf{"halo-half-distance", 1, {"This project (docs/methods/halo.md)", "JCGM 100:2008"}};
const Method kBar{"halo-bar-share", 1, {"This project (docs/methods/halo.md)", "JCGM 100:2008", "Fieller 1954"}};

struct Black {
  double distance_percent = 0;
  const StepLight* step = nullptr;
};

std::vector<Black> blacks_of(const RunLight& run) {
  std::vector<Black> out;
  constexpr std::string_view prefix = "black_";
  for (const auto& step : run.steps)
    if (const std::string_view key = step.key; key.starts_with(prefix))
      if (const auto distance = parse_double(key.substr(prefix.size()))) out.push_back({*distance, &step});
  std::ranges::sort(out, {}, &Black::distance_percent);
  return out;
}

nlohmann::json series_of(const std::vector<Black>& blacks, const Study& study) {
  auto out = nlohmann::json::array();
  for (const auto& b : blacks) {
    const auto r = colour::linear_result(b.step->light.Y, study.light.sources);
    out.push_back({{"distance_percent", b.distance_percent},
                   {"cdm2", r.value},
                   {"lower95_cdm2", r.interval.lower},
                   {"upper95_cdm2", r.interval.upper}});
  }
  return out;
}

/// Distance at which the light above the farthest black is half of that at the nearest, on a line in log light between
/// the two places around it; nullopt where it is not shown that the light falls so far.
std::optional<Uncertain> half_distance(const std::vector<Black>& blacks, Light& light) {
  const Uncertain &nearest = blacks.front().step->light.Y, &farthest = blacks.back().step->light.Y;
  const Uncertain half = 0.5 * (nearest - farthest);
  if (!(half.value() > 5 * colour::standard_uncertainty(half, light.sources))) return std::nullopt;
  std::size_t i = 1;
  while (i + 1 < blacks.size() && (blacks[i].step->light.Y - farthest).value() > half.value()) ++i;
  if (i + 1 >= blacks.size()) return std::nullopt;
  const Uncertain before = blacks[i - 1].step->light.Y - farthest, after = blacks[i].step->light.Y - farthest;
  if (!(before.value() > half.value()) || !(after.value() > 0)) return std::nullopt;
  const auto log_of = [](const Uncertain& v) { return Uncertain::map(std::log(v.value()), 1 / v.value(), v); };
  const double from = blacks[i - 1].distance_percent, width = blacks[i].distance_percent - from;
  const Uncertain by_log = (log_of(before) - log_of(half)) / (log_of(before) - log_of(after));
  // The true course between the two places is not known; the straight line is as far off as it could sensibly be.
  const double straight = (before.value() - half.value()) / (before.value() - after.value());
  const auto between = light.sources.add(
      {.name = kBetween,
       .standard_uncertainty = colour::rectangular_uncertainty(width * std::abs(straight - by_log.value()))});
  return from + width * by_log + Uncertain(0, between);
}

}  // namespace

void add_halo_findings(Findings& out, const Study& study, const RunLight& run) {
  const double window = parameter(run, "window_percent", 4);
  const auto blacks = blacks_of(run);
  for (const auto& b : blacks) {
    auto conditions = number_condition("window_percent", window);
    conditions.update(number_condition("distance_percent", b.distance_percent));
    auto f = new_finding("halo_luminance", conditions, kLuminance);
    use_step(f, run, *b.step);
    set_linear(f, b.step->light.Y, study);
    keep_above_zero(f);
    if (study.input.series && b.step == blacks.front().step) f.series = series_of(blacks, study);
    out.push_back(std::move(f));
  }
  if (blacks.size() >= 3) {
    Light light = study.light;
    if (const auto half = half_distance(blacks, light)) {
      auto f = new_finding("halo_half_distance", number_condition("window_percent", window), kHalf);
      for (const auto& b : blacks) use_step(f, run, *b.step);
      set_linear(f, *half, Study{light, study.input});
      keep_above_zero(f);
      out.push_back(std::move(f));
    }
  }
  const StepLight *bar = run.find("bar"), *object = run.find("bar_object");
  if (bar == nullptr || object == nullptr) return;
  auto f = new_finding("halo_bar_share", number_condition("window_percent", window), kBar);
  use_step(f, run, *bar);
  use_step(f, run, *object);
  set_ratio(f, 100.0 * bar->light.Y, object->light.Y, study);
  keep_above_zero(f);
  out.push_back(std::move(f));
}

}  // namespace provenit::evaluation
