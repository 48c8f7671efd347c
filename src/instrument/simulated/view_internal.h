#pragma once
// What place on the picture and angle do to the light: unevenness and viewing angle.
#include "emitters_internal.h"
#include "provenit/instrument/placement.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// Factors on the light at one placement. Exactly 1 at the centre, head on.
struct ViewFactors {
  Vector channel{1, 1, 1};
  double leak = 1;
  [[nodiscard]] Mixture applied(Mixture mixture) const;
};

[[nodiscard]] ViewFactors view_factors(const DisplayPhysics& physics, const instrument::Placement& placement);

}  // namespace provenit::simulated
