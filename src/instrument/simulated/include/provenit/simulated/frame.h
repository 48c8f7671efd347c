#pragma once
// The light of a whole picture on the simulated display, with everything it has: zones, limiter, leakage, halo, panel,
// spectra, unevenness. What a forecast is held against; never what it is made from.
#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// R'G'B' codes of every pixel, row by row from the top left; the picture fills the screen.
struct CodeFrame {
  signal::Encoding encoding;
  int width = 0, height = 0;
  std::vector<std::array<std::uint16_t, 3>> codes;
};

/// Light at points of a frame, seen head on.
struct FrameLight {
  int width = 0, height = 0;              ///< of the points
  std::vector<std::array<float, 3>> xyz;  ///< cd/m2, row by row
  double load = 0, cap = 1;               ///< of the limiter, where it stands at this moment
};

/// A display that shows pictures: controls neutral, local dimming as found, one thermal state, no long stays. The same
/// physics as SimulatedDisplay::truth(), but for one thing: light from the zones is summed exactly at points an eighth
/// of a zone apart and taken linearly between them, which changes it by less than 0.5 %.
class FrameScreen {
 public:
  struct Options {
    ThermalState state;
    int stride = 1;       ///< light of every stride-th pixel of every stride-th row, the first at stride / 2
    bool limited = true;  ///< false: as if the limiter were not there
  };
  /// Throws std::invalid_argument as SimulatedDisplay does.
  FrameScreen(DisplayPhysics physics, const Options& options);
  ~FrameScreen();
  FrameScreen(FrameScreen&&) noexcept;
  FrameScreen& operator=(FrameScreen&&) noexcept;

  /// Once zones and limiter have settled on it; what step() has shown before is not touched.
  /// Errors: invalid_input if the codes do not fit the size; out_of_range for the encoding.
  [[nodiscard]] Result<FrameLight> settled(const CodeFrame& frame) const;
  /// Shows the frame for `duration` after the one before (the first one is found settled), and returns the light in the
  /// middle of that time. Errors: as above.
  [[nodiscard]] Result<FrameLight> step(const CodeFrame& frame, Seconds duration);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::simulated
