// Delay from a marker of the signal to the light, edge by edge.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

constexpr std::size_t kFewestPairs = 5;

/// Times of the rises' half-way points, in samples.
std::vector<double> rises_of(const Samples& samples) {
  std::vector<double> out;
  for (const auto& edge : find_edges(samples.values)) {
    if (!edge.rising) continue;
    // As wide a fit as the middle of the edge is straight.
    double half = 1;
    const double a = crossing_time(samples.values, edge, 0.3, 1), b = crossing_time(samples.values, edge, 0.7, 1);
    if (std::isfinite(a) && std::isfinite(b)) half = std::clamp((b - a) / 2, 1.0, 1e6);
    const double at = crossing_time(samples.values, edge, 0.5, static_cast<std::size_t>(half));
    if (std::isfinite(at)) out.push_back(at);
  }
  return out;
}

/// Standard deviation with an interval that holds for distributions that are not normal: log s^2 has the variance
/// (kurtosis - (n - 3) / n) / (n - 1).
Figure spread_figure(std::span<const double> values) {
  const auto n = static_cast<double>(values.size());
  const double s = colour::standard_deviation(values), mean = colour::mean(values);
  double fourth = 0, second = 0;
  for (const double v : values) fourth += std::pow(v - mean, 4), second += std::pow(v - mean, 2);
  const double kurtosis = second > 0 ? n * fourth / (second * second) : 3;
  const double se = std::sqrt(std::max(0.1, kurtosis - (n - 3) / n) / (n - 1));
  const double z = colour::normal_factor(), c = n / (n - z);
  Figure f{.value = s, .standard_uncertainty = s * c * se / 2};
  f.interval = {s * std::sqrt(c) * std::exp(-0.5 * z * c * se), s * std::sqrt(c) * std::exp(0.5 * z * c * se)};
  f.interval_method = "log of the variance with its kurtosis";
  f.variance.push_back({"number of edges", 1});
  return f;
}

}  // namespace

Result<Delay> measure_delay(const Samples& marker, const Samples& light) {
  if (marker.values.size() != light.values.size() || marker.rate_hz != light.rate_hz)
    return fail(ErrorCode::invalid_input, "marker and light are not of one recording",
                "Record both channels with one recorder.");
  const auto marks = rises_of(marker), lights = rises_of(light);
  Delay out;
  for (std::size_t i = 0; i < marks.size(); ++i) {
    const auto next = std::ranges::upper_bound(lights, marks[i]);
    if (next == lights.end() || (i + 1 < marks.size() && *next > marks[i + 1])) continue;
    out.delays_ms.push_back(1000 * (*next - marks[i]) / light.rate_hz);
  }
  if (out.delays_ms.size() < kFewestPairs || 2 * out.delays_ms.size() < marks.size())
    return fail(
        ErrorCode::invalid_input,
        fmt::format("{} rises of the marker, {} of the light, {} pairs", marks.size(), lights.size(),
                    out.delays_ms.size()),
        fmt::format("Record at least {} steps from black to white, further apart than the delay.", kFewestPairs));
  // Half way comes later by ln 2 / (2 pi B) for a sudden step and by 1 / (2 pi B) for a slow one.
  const double late = light.bandwidth_hz > 0 ? 135.0 / light.bandwidth_hz : 0;
  const double limit = light.bandwidth_hz > 0 ? 24.0 / light.bandwidth_hz : 0;
  for (double& d : out.delays_ms) d -= late;
  const double mean = colour::mean(out.delays_ms);
  out.mean_ms = mean_figure(
      out.delays_ms,
      {{"recorder's rate", light.rate_relative * std::fabs(mean)}, {"sensor's own time", limit / std::sqrt(3.0)}},
      "scatter of the delays");
  out.jitter_ms = spread_figure(out.delays_ms);
  return out;
}

}  // namespace provenit::evaluation
