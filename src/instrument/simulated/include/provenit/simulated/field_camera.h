#pragma once
// A still camera before a display that shows a full field, and its flat field.
#include <array>
#include <cstdint>
#include <functional>

#include "provenit/simulated/capture.h"

namespace provenit::simulated {

/// A camera on a tripod, a little askew, and the even light its flat field is taken of.
struct FieldCamera {
  int width = 480, height = 300;
  double size = 0.84;                          ///< of the picture's width, that the display fills
  double aspect = 16. / 9;                     ///< of the display
  double turned_rad = 0.01;                    ///< about the line of sight
  std::array<double, 2> keystone{0.03, 0.02};  ///< across and down
  std::array<double, 2> shift{0, 0};           ///< of the display, shares of the picture's width and height
  double vignetting = 0.25;                    ///< light lost at the corners
  double crosstalk = 0.15;                     ///< standard deviation of what a channel takes of another primary
  double exposure = 0.6;                       ///< value that the field's middle has, 1 = highest
  double noise = 0.01;                         ///< standard deviation of a value at 1, falls with the root of the light
  double surround = 0.02;                      ///< light beside the display, of the field's
  double flat_error = 0.01;                    ///< standard deviation of the flat field's light over the picture
  std::uint64_t seed = 1;
};

/// Light of the display's primaries at a place (shares of width and height), 1 at the centre.
using FieldLight = std::function<std::array<double, 3>(double u, double v)>;

/// Linear values in [0, 1], cut off there, of the field. `take`: which picture of it, for the noise.
[[nodiscard]] Frame field_picture(const FieldLight& light, const FieldCamera& camera, int take);
[[nodiscard]] Frame flat_picture(const FieldCamera& camera);

}  // namespace provenit::simulated
