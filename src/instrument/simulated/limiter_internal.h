#pragma once
// The limiter's static curve, and how limiter and zones move in time.
#include <span>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

class LimiterCurve {
 public:
  explicit LimiterCurve(std::span<const Limiter::Point> points);
  /// Largest drive at this load. Never rises with load.
  [[nodiscard]] double cap(double load) const;

 private:
  std::vector<double> x_, y_, slope_;  ///< log load, cap, d cap / d log load
};

/// A first-order move is over after this many time constants (exactly: see remaining()).
inline constexpr double kMoveEnds = 6;
/// What is left of a move `since` its start: 1 at the start, 0 from kMoveEnds time constants on; exponential between.
[[nodiscard]] double remaining(Seconds since, double time_constant_s);

}  // namespace provenit::simulated
