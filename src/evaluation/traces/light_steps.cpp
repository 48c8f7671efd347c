// Rise, fall and afterglow of light that is switched on and off.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

constexpr int kFewestEdges = 3;
constexpr double kMostUnderWay = 0.4;  // of the state after it
constexpr double kSensorRise = 0.35;   // times bandwidth: 10-90 % time of a first-order sensor, ln 9 / (2 pi)

/// Samples on either side of a crossing that its parabola is fitted to. An exponential begins with a corner and ends
/// flat: narrow at the beginning, wide at the end.
constexpr double kNarrow = 30, kWide = 8;  // parts of the edge
std::size_t part_of(double duration, double parts) {
  return static_cast<std::size_t>(std::clamp(duration / parts, 1.0, 1e6));
}

double duration_samples(std::span<const double> values, const Edge& edge) {
  double duration = 8;
  for (int round = 0; round < 3; ++round) {
    const double first = crossing_time(values, edge, 0.1, part_of(duration, kNarrow));
    const double last = crossing_time(values, edge, 0.9, part_of(duration, kWide));
    duration = last - first;
    if (!std::isfinite(duration)) break;
  }
  return duration;
}

/// Mean of the durations, the sensor's own taken out in quadrature.
Figure duration_figure(const std::vector<double>& samples, const Samples& light, bool& at_limit) {
  std::vector<double> ms;
  for (const double s : samples) ms.push_back(1000 * s / light.rate_hz);
  const double read = colour::mean(ms);
  const double own = light.bandwidth_hz > 0 ? 1000 * kSensorRise / light.bandwidth_hz : 0;
  const double sample = 1000 / light.rate_hz;
  at_limit = read < 2 * own || read < 2 * sample;
  const double freed = at_limit ? read : std::sqrt(read * read - own * own);
  // Quadrature is exact for Gaussian responses only: half the correction counts as its limit. Interpolation between
  // samples is good to a twentieth of one where the edge spans several.
  return figure_of(
      freed,
      {{"scatter of the edges", colour::standard_deviation(ms) / std::sqrt(static_cast<double>(ms.size()))},
       {"recorder's rate", light.rate_relative * freed},
       {"sensor's own time", (read - freed) / 2 / std::sqrt(3.0)},
       {"distance of samples", sample / 20 / std::sqrt(3.0)}},
      static_cast<double>(ms.size()) - 1);
}

/// Share of the step that is left, in %, `after_s` after the light has fallen to 90 %, and its slope in % per second;
/// NaN where the state ends sooner.
struct LeftOver {
  double percent = std::numeric_limits<double>::quiet_NaN(), per_s = 0;
};
LeftOver share_left(const Samples& light, const Edge& edge, double after_s) {
  const double duration = duration_samples(light.values, edge);
  if (!std::isfinite(duration)) return {};
  // A tenth of the step is done.
  const double begin = crossing_time(light.values, edge, 0.1, part_of(duration, kNarrow));
  const double at = begin + after_s * light.rate_hz, half = std::max(2.0, 0.1 * after_s * light.rate_hz);
  // The end of the state is where its level is taken from.
  const double settled = static_cast<double>(edge.crossing) + 0.75 * static_cast<double>(edge.until - edge.crossing);
  if (!(at + half < settled)) return {};
  const auto there = local_fit(light.values, at, static_cast<std::size_t>(half));
  const double percent = 100 / (edge.before - edge.after);
  return {percent * (there.value - edge.after), percent * there.slope * light.rate_hz};
}

}  // namespace

Result<LightSteps> measure_light_steps(const Samples& light, std::span<const double> after_s) {
  const auto edges = find_edges(light.values);
  std::vector<double> rises, falls;
  LightSteps out;
  for (const auto& edge : edges) {
    const double duration = duration_samples(light.values, edge);
    if (!std::isfinite(duration) || !(duration > 0)) continue;
    // Light that is under way for most of its state has no levels: it is a wave, not steps.
    if (duration > kMostUnderWay * static_cast<double>(edge.until - edge.crossing)) continue;
    (edge.rising ? rises : falls).push_back(duration);
  }
  out.rises = static_cast<int>(rises.size());
  out.falls = static_cast<int>(falls.size());
  if (out.rises < kFewestEdges && out.falls < kFewestEdges)
    return fail(ErrorCode::invalid_input,
                fmt::format("{} rises and {} falls stand out of the noise", out.rises, out.falls),
                fmt::format("Record at least {} of each, and more light on the sensor.", kFewestEdges));
  if (out.rises >= kFewestEdges) out.rise_ms = duration_figure(rises, light, out.rise_at_limit);
  if (out.falls >= kFewestEdges) out.fall_ms = duration_figure(falls, light, out.fall_at_limit);
  for (const double after : after_s) {
    std::vector<double> shares;
    double slope = 0;
    for (const auto& edge : edges) {
      if (edge.rising) continue;
      const auto left = share_left(light, edge, after);
      if (!std::isfinite(left.percent)) continue;
      shares.push_back(left.percent);
      slope = left.per_s;
    }
    if (static_cast<int>(shares.size()) < kFewestEdges) continue;
    out.afterglow.push_back(
        {after, mean_figure(shares, {{"recorder's rate", std::fabs(slope) * after * light.rate_relative}})});
  }
  return out;
}

}  // namespace provenit::evaluation
