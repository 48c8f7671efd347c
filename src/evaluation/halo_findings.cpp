// Halo: black beside a bright window, the distance over which it falls by half, and its share in a letterbox bar.
#include <algorithm>
#include <cmath>
#include <optional>

#include "course_internal.h"
#include "findings_internal.h"
#include "provenit/base/text.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

/// From simulated displays with zones.
constexpr double kCourseTrust = 0.1;
constexpr const char* kBetween = "interpolation between distances";
const Method kLuminance{"halo-luminance", 1, {"This project (docs/methods/halo.md)", "JCGM 100:2008"}};
const Method kHalfExtent{"halo-half-distance", 2, {"This project (docs/methods/halo.md)", "JCGM 100:2008"}};
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

/// Where the light above that of the farthest place is half of that at the nearest.
struct Half {
  double percent = 0;
  double straight_percent = 0;  ///< on a straight line in log light between the two places around it
};

/// `cdm2` at the places, from the nearest on; nullopt where it is not between two places that are both brighter than
/// the farthest.
std::optional<Half> half_of(const std::vector<Black>& blacks, const std::vector<double>& cdm2) {
  std::vector<double> at, log_excess;
  for (std::size_t i = 0; i + 1 < blacks.size() && cdm2[i] > cdm2.back(); ++i) {
    at.push_back(blacks[i].distance_percent);
    log_excess.push_back(std::log(cdm2[i] - cdm2.back()));
  }
  if (at.size() < 2) return std::nullopt;
  const double half = log_excess.front() - std::log(2.0);
  const auto below = std::ranges::find_if(log_excess, [half](double v) { return v <= half; });
  if (below == log_excess.end()) return std::nullopt;
  const auto i = static_cast<std::size_t>(below - log_excess.begin()) - 1;
  // What lies two places beyond says nothing of the course here, and may be noise.
  const auto used = static_cast<std::ptrdiff_t>(std::min(at.size(), i + 3));
  const Course course({at.begin(), at.begin() + used}, {log_excess.begin(), log_excess.begin() + used});
  const double share = (log_excess[i] - half) / (log_excess[i] - log_excess[i + 1]);
  return Half{course.crossing(i, half), at[i] + share * (at[i + 1] - at[i])};
}

/// That distance with what moves it; nullopt where it is not shown that the light falls so far.
std::optional<Uncertain> half_distance(const std::vector<Black>& blacks, Light& light) {
  const Uncertain half = 0.5 * (blacks.front().step->light.Y - blacks.back().step->light.Y);
  if (!(half.value() > 5 * colour::standard_uncertainty(half, light.sources))) return std::nullopt;
  std::vector<double> cdm2;
  for (const auto& b : blacks) cdm2.push_back(b.step->light.Y.value());
  const auto found = half_of(blacks, cdm2);
  if (!found) return std::nullopt;
  Uncertain out(found->percent);
  for (std::size_t i = 0; i < blacks.size(); ++i) {
    const Uncertain& y = blacks[i].step->light.Y;
    const double u = colour::standard_uncertainty(y, light.sources);
    auto up = cdm2, down = cdm2;
    up[i] += u;
    down[i] -= u;
    const auto more = half_of(blacks, up), less = half_of(blacks, down);
    if (u > 0 && more && less) out += (more->percent - less->percent) / (2 * u) * (y - y.value());
  }
  // The true course between the places is not known; the smooth one is trusted to a part of what it differs from a
  // straight one.
  const double off = kCourseTrust * std::abs(found->percent - found->straight_percent);
  return out + Uncertain(0, light.sources.add({.name = kBetween,
                                               .standard_uncertainty = colour::rectangular_uncertainty(off),
                                               .distribution = colour::Distribution::rectangular}));
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
      auto f = new_finding("halo_half_distance", number_condition("window_percent", window), kHalfExtent);
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
