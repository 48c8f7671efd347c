#pragma once
// From drive to light: the channels' own errors, and what they do to each other.
#include "decoder_internal.h"
#include "emitters_internal.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// What stands behind the panel at the spot. Self-emissive and unzoned displays: 1 and 1.
struct Backlight {
  double actual = 1;
  double estimate = 1;  ///< what the display believes, and opens the panel for
  double cap = 1;       ///< of the limiter
  double dim = 1;       ///< the limiter's factor on the whole picture
};

class Panel {
 public:
  explicit Panel(const DisplayPhysics& physics);
  [[nodiscard]] Mixture mixture(const Drive& drive, const Backlight& backlight, const ThermalState& thermal) const;

 private:
  [[nodiscard]] double opening(std::size_t channel, double wanted) const;
  DisplayPhysics physics_;
};

}  // namespace provenit::simulated
