#pragma once
// A video camera on a tripod before the simulated display: what its clip of a walking box would hold.
#include <cstdint>
#include <functional>
#include <memory>
#include <vector>

#include "provenit/simulated/trace.h"

namespace provenit::simulated {

/// A camera with a rolling shutter. Light is in the linear unit of the picture, 1 = white; codes follow the camera
/// curve of Rec. ITU-R BT.709.
struct FilmCamera {
  int width = 96, height = 54;
  double rate_hz = 60;
  double rate_error = 0;      ///< true frames per second = rate_hz * (1 + this)
  double readout_s = 0.012;   ///< from the first row to the last, less than a frame
  double margin = 0.08;       ///< of the picture, left beside the display on each side
  double zone_light = 0.1;    ///< of one zone at full light, where it is brightest
  double room_light = 0.002;  ///< of what is not display: a wall, a shelf, alternating from place to place
  double noise = 0.01;        ///< standard deviation of a pixel's light
  double blur = 1;            ///< standard deviation in pixels, of the box only: zones are smooth by themselves
  std::function<double(double)> exposure;  ///< factor on all light over true time; not set: it stays
  std::uint64_t seed = 1;
};

/// Frames of the clip, one after the other: luma in 8 bits, full range, row by row.
class WalkFilm {
 public:
  WalkFilm(const DisplayPhysics& physics, const BoxWalk& walk, FilmCamera camera);
  ~WalkFilm();
  WalkFilm(WalkFilm&&) noexcept;
  WalkFilm& operator=(WalkFilm&&) noexcept;
  /// Of the whole walk with the black before and after it.
  [[nodiscard]] int frames() const;
  [[nodiscard]] std::vector<std::uint8_t> next();

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::simulated
