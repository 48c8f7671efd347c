#include "traces/zone_steps.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "provenit/colour/monte_carlo.h"

namespace provenit::evaluation {
namespace {

constexpr double kStepStandsOut = 6;  // times the noise of a change
constexpr std::size_t kFewestSteps = 4;
// Standard deviations in frames: of a step's place, and of the moment at which the walk begins.
constexpr double kPlace = 0.7, kStart = 5;
// Log odds: of a zone without a step between zones that have one, and of a step that belongs to no zone.
constexpr double kMissing = 3, kStray = 5;
// Good numbers cost half a unit a step. From here on steps lie anywhere.
constexpr double kMostPerStep = 1.5;

/// Log likelihood of entries at multiples of the pitch (frames), the walk beginning `shift` frames late.
double likelihood_at(std::span<const double> entries, double pitch, double lead, double shift) {
  double l = -0.5 * std::pow(shift / kStart, 2), last = -1;
  for (const double entry : entries) {
    const double zone = (entry + lead - shift) / pitch, nearest = std::round(zone);
    const double fit = -0.5 * std::pow((zone - nearest) * pitch / kPlace, 2);
    if (fit < -kStray || nearest == last) {
      l -= kStray;
      continue;
    }
    l += fit;
    if (last >= 0) l -= kMissing * (nearest - last - 1);
    last = nearest;
  }
  return l;
}

}  // namespace

std::vector<double> zone_entries(std::span<const double> light, const WalkPath& path) {
  std::vector<double> change, sorted, entries;
  for (std::size_t i = 1; i < light.size(); ++i) change.push_back(light[i] - light[i - 1]);
  for (const double c : change) sorted.push_back(std::fabs(c));
  std::ranges::sort(sorted);
  const double least = kStepStandsOut * 1.4826 * colour::quantile(sorted, 0.5), box = path.along / path.step;
  const auto apart = static_cast<std::size_t>(std::ceil(box)) + 2;
  for (std::size_t i = 0; i < change.size(); ++i) {
    if (!(std::fabs(change[i]) > least)) continue;
    // One step: until nothing stands out for longer than the box takes to pass.
    std::size_t steepest = i, last = i;
    for (std::size_t k = i; k < change.size() && k <= last + apart; ++k) {
      if (!(std::fabs(change[k]) > least)) continue;
      last = k;
      if (std::fabs(change[k]) > std::fabs(change[steepest])) steepest = k;
    }
    entries.push_back(static_cast<double>(steepest) - (change[steepest] < 0 ? box : 0));
    i = last + apart;
  }
  return entries;
}

std::vector<double> likelihood_of_entries(std::span<const double> entries, const WalkPath& path, int most) {
  if (entries.size() < kFewestSteps || most < 1) return {};
  constexpr double none = -std::numeric_limits<double>::infinity();
  std::vector<double> out(static_cast<std::size_t>(most) + 1, none);
  for (int zones = 1; zones <= most; ++zones) {
    auto& best = out[static_cast<std::size_t>(zones)];
    for (double shift = -3 * kStart; shift <= 3 * kStart; shift += 0.25)
      best = std::max(best, likelihood_at(entries, path.length / zones / path.step, path.along / path.step, shift));
  }
  if (*std::ranges::max_element(out) < -kMostPerStep * static_cast<double>(entries.size())) return {};
  return out;
}

}  // namespace provenit::evaluation
