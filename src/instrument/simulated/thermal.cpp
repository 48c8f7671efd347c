#include <algorithm>
#include <cmath>
#include <numbers>

#include "random_internal.h"
#include "thermal_internal.h"

namespace provenit::simulated {
namespace {

constexpr std::uint64_t kWanderStream = 100;
/// How much of the spectral shift follows the fast and the slow warming.
constexpr double kFastShare = 0.3;

}  // namespace

ThermalDrift::ThermalDrift(const Thermal& model, std::uint64_t seed, Timestamp powered_on)
    : model_(model), powered_on_(powered_on) {
  const double ratio = model.wander_longest_s / model.wander_shortest_s;
  for (std::size_t s = 0; s < wander_.size(); ++s) {
    const Random random(seed, kWanderStream + s);
    for (int i = 0; i < kWaves; ++i) {
      // One wave in each of kWaves equal steps of log period, so that no unit lacks the slow or the quick ones.
      const double position = (i + random.uniform(2 * i)) / kWaves;
      wander_[s].angular[i] = 2 * std::numbers::pi / (model.wander_shortest_s * std::pow(ratio, position));
      wander_[s].phase[i] = 2 * std::numbers::pi * random.uniform(2 * i + 1);
    }
  }
}

double ThermalDrift::Wander::at(double seconds) const {
  double sum = 0;
  for (int i = 0; i < kWaves; ++i) sum += std::sin(angular[i] * seconds + phase[i]);
  return sum * std::sqrt(2.0 / kWaves);
}

ThermalState ThermalDrift::at(Timestamp time) const {
  const double seconds = std::max(0.0, (time - powered_on_).s);
  const double fast = std::exp(-seconds / model_.fast_s), slow = std::exp(-seconds / model_.slow_s);
  const double all = model_.wander_luminance * wander_[3].at(seconds);
  ThermalState state;
  state.common = 1 + all;
  for (int c = 0; c < 3; ++c) {
    const double warming = model_.fast[c] * fast + model_.slow[c] * slow;
    state.channel[c] = 1 + warming + all + model_.wander_channel * wander_[c].at(seconds);
    state.common += warming / 3;
  }
  state.warmth = 1 - kFastShare * fast - (1 - kFastShare) * slow;
  return state;
}

}  // namespace provenit::simulated
