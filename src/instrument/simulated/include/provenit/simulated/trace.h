#pragma once
// A light sensor and its recorder before the simulated display: what a trace would hold, and what is true of it.
#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// A photodiode with its amplifier, and a recorder with a clock of its own.
struct SensorModel {
  double rate_hz = 2000;    ///< as the recorder states it
  double rate_error = 0;    ///< true samples per second = rate_hz * (1 + this)
  double bandwidth_hz = 0;  ///< first order, -3 dB; 0 = none
  double noise = 0.001;     ///< standard deviation of each sample, in the unit of the light
  double gain = 1, dark = 0;
  std::uint64_t seed = 1;
};

/// Samples of light(t), t in true seconds from 0, over `seconds`: filtered, sampled by the recorder's clock, scaled,
/// dark level and noise added. light is asked for rising times.
[[nodiscard]] std::vector<double> sense(const std::function<double(double)>& light, double seconds,
                                        const SensorModel& sensor);

/// A small box that walks along the top row of zones, or down the left column, frame by frame, on black.
struct BoxWalk {
  int width = 1920, height = 1080;        ///< raster, pixels
  int step = 2, along = 16, across = 32;  ///< pixels
  bool down = false;
  double frame_s = 1 / 24.;
  double black_before_s = 0.5, black_after_s = 0.5;
  [[nodiscard]] int length() const { return down ? height : width; }
  [[nodiscard]] int frames() const { return (length() - along) / step + 1; }
  [[nodiscard]] double seconds() const { return black_before_s + frames() * frame_s + black_after_s; }
};

/// Where the sensor is and what it sees.
struct SensorView {
  /// Shares of the picture's width and height; nullopt: it sees the whole screen alike.
  std::optional<std::array<double, 2>> place;
  bool box_masked = false;     ///< the path of the box is covered: only light beside it arrives
  double leakage = 1. / 1500;  ///< light through the shut panel over light through the open one
};

/// What each zone gives over the time of a walk (1 = all its light), row by row from the top left. Times must rise from
/// call to call. The physics must have zones.
[[nodiscard]] std::function<std::vector<double>(double)> walk_levels(const DisplayPhysics& physics,
                                                                     const BoxWalk& walk);
/// Backlight that one zone at full light gives at a place (shares of the picture), 1 = all zones at full light.
[[nodiscard]] double zone_light_at(const DisplayPhysics& physics, int column, int row, double x, double y);

/// Light of that walk at the sensor over time (1 = the whole screen at full light): zones are driven by what lies on
/// them and move with their rise and fall times; the box shows what its backlight gives. Times must rise from call to
/// call. The physics must have zones.
[[nodiscard]] std::function<double(double)> walk_light(const DisplayPhysics& physics, const BoxWalk& walk,
                                                       const SensorView& view);

}  // namespace provenit::simulated
