#pragma once
// One place of one signal: what it asks of the display, and its light.
#include <array>
#include <vector>

#include "provenit/forecast/display.h"

namespace provenit::forecast {

/// All that does not depend on the optics but their grid.
struct Spot {
  std::vector<double> shares;                 ///< of each zone that show the patch
  std::array<double, 3> patch{}, surround{};  ///< the channels' light
  double share = 1;                           ///< of the picture that shows the patch
  bool on_patch = true;
  double x = 0.5, y = 0.5;
};
[[nodiscard]] Spot spot_of(const Channels& channels, const Optics& grid, const signal::Signal& signal, double x,
                           double y);

struct SpotLight {
  colour::AbsoluteXyz<> xyz;
  double asked_cdm2 = 0;  ///< that the channels alone would give, nothing limiting them
  bool limited = false;   ///< by the limiter, or by too little light behind
};
[[nodiscard]] SpotLight light_at(const Channels& channels, const Optics& optics, const Unevenness& unevenness,
                                 const Spot& spot);
/// Backlight there, the limiter counted; 1 without zones.
[[nodiscard]] double backlight_at(const Optics& optics, const Spot& spot);

}  // namespace provenit::forecast
