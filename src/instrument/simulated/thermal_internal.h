#pragma once
// Warm-up and wander: where the slow changes stand at a time.
#include <array>
#include <cstdint>

#include "provenit/base/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

class ThermalDrift {
 public:
  ThermalDrift(const Thermal& model, std::uint64_t seed, Timestamp powered_on);
  [[nodiscard]] ThermalState at(Timestamp time) const;

 private:
  static constexpr int kWaves = 10;
  /// A smooth random function of time with unit variance: waves of random period and phase.
  struct Wander {
    std::array<double, kWaves> angular{}, phase{};
    [[nodiscard]] double at(double seconds) const;
  };
  Thermal model_;
  Timestamp powered_on_;
  std::array<Wander, 4> wander_;  ///< R, G, B, all
};

}  // namespace provenit::simulated
