#include "traces/pulses.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

/// The samples in the order of their phase, each with the share of the period that it stands for: half-way to its
/// neighbours. Periods that the samples do not divide evenly are seen far more finely than one of them is.
struct Phased {
  double phase = 0, light = 0, time_s = 0;
};
std::vector<Phased> by_phase(const Samples& light, double dark, double hz) {
  std::vector<Phased> out;
  for (std::size_t i = 0; i < light.values.size(); ++i) {
    const double turns = hz * static_cast<double>(i) / light.rate_hz;
    out.push_back({turns - std::floor(turns), light.values[i] - dark, static_cast<double>(i) / light.rate_hz});
  }
  std::ranges::sort(out, {}, &Phased::phase);
  return out;
}

}  // namespace

Figure pulse_index(const Samples& light, double dark, double hz, double u_hz, double noise) {
  const auto samples = by_phase(light, dark, hz);
  const std::size_t n = samples.size();
  const auto to_next = [&](std::size_t i) {
    return i + 1 < n ? samples[i + 1].phase - samples[i].phase : 1 + samples[0].phase - samples[i].phase;
  };
  const auto share = [&](std::size_t i) { return 0.5 * (to_next(i) + to_next(i == 0 ? n - 1 : i - 1)); };
  double mean = 0, above = 0, duty = 0;
  for (std::size_t i = 0; i < n; ++i) mean += share(i) * samples[i].light;
  for (std::size_t i = 0; i < n; ++i)
    if (samples[i].light > mean) above += share(i) * (samples[i].light - mean), duty += share(i);
  const double index = above / mean;
  // To first order: d(index) = d(light) (1 - duty - index) / mean above the mean, -d(light) (duty + index) / mean
  // below.
  double by_noise = 0, by_edges = 0, by_frequency = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double per_light = (samples[i].light > mean ? 1 - duty - index : -duty - index) / mean;
    by_noise += std::pow(noise * share(i) * per_light, 2);
    const double from = samples[i].light, to = samples[i + 1 < n ? i + 1 : 0].light;
    if (std::fabs(to - from) < 8 * noise) continue;
    const double per_phase = (std::max(0.0, std::max(from, to) - mean) - std::max(0.0, std::min(from, to) - mean) -
                              (duty + index) * std::fabs(to - from)) /
                             mean;
    by_edges += std::pow(per_phase * to_next(i), 2) / 12;
    by_frequency += (to > from ? u_hz : -u_hz) * per_phase * samples[i].time_s;
  }
  return figure_of(index,
                   {{"noise of the trace", std::sqrt(by_noise)},
                    {"distance of samples", std::sqrt(by_edges)},
                    {"frequency", std::fabs(by_frequency)}},
                   1e6);
}

}  // namespace provenit::evaluation
