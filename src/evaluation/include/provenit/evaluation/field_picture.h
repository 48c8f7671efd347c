#pragma once
// Uniformity from a camera: the picture of the display showing a full field, over a flat-field picture of the same
// camera. Pure: pixels in, figures out. Method and limits: docs/methods/field_picture.md.
#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/captures.h"
#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// A camera's picture in linear light: the camera's black is 0, its curve taken out.
struct LinearPicture {
  int width = 0, height = 0;
  std::vector<float> rgb;          ///< 3 x width x height, finite
  std::optional<float> saturates;  ///< from this value on a channel is full; not set: found by how often the largest
                                   ///< value stands
  [[nodiscard]] const float* at(int x, int y) const {
    return rgb.data() +
           3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x));
  }
};

/// Where the display lies in a camera's picture: its corners in pixels, from the top left clockwise.
struct DisplayOutline {
  std::array<std::array<double, 2>, 4> corner{};
  /// Pixel of a place on the display, shares of its width and height from the top left (projective).
  [[nodiscard]] std::array<double, 2> at(double u, double v) const;
};
/// The outline of a bright field before a dark surround: straight lines through the places along each side where light
/// passes half of the field's.
/// errors  invalid_input if a side is not wholly in the picture, or is not straight within a two-hundredth of the width
[[nodiscard]] Result<DisplayOutline> find_display(const LinearPicture& picture);

/// Not more than a thousandth of the values is at the highest. errors  invalid_input naming `name`
[[nodiscard]] Result<void> check_exposure(const LinearPicture& picture, const char* name);
/// Evenly lit throughout: no part of a sixteenth of the width and height has less than 15 % of the brightest's light.
[[nodiscard]] Result<void> check_flat_field(const LinearPicture& flat);

struct FieldOptions {
  /// Standard uncertainty of the flat field at a place, relative: how evenly its source shone. 0 to 0.2.
  double flat_relative = 0.01;
  /// Share of each channel in luminance.
  std::array<double, 3> weights{0.2627, 0.6780, 0.0593};
  int draws = 2000;
  std::uint64_t seed = 1;
};

struct FieldGrid {
  int columns = 3, rows = 3;  ///< the middles of as many equal parts, as docs/methods/uniformity.md has them
  Figure nonuniformity;       ///< 100 % x (1 - Lmin / Lmax)
  double as_read = 0;         ///< the same of the values as read: biased up
  struct Point {
    double u = 0, v = 0;                         ///< shares of the display's width and height
    double percent = 0;                          ///< luminance, % of the centre's
    colour::Interval percent_95;                 ///< 95 %
    double red_to_green = 1, blue_to_green = 1;  ///< of the camera's channels over those at the centre: indicative
  };
  std::vector<Point> points;  ///< row by row
};

/// `field` and `again` are of the same full field, the second taken at the end; `flat` is of an even light.
/// out     one grid each of 3 x 3, 5 x 5 and 11 x 9 points; relative luminance only
/// errors  invalid_input naming the picture: sizes that differ, a saturated channel, a flat field that is dark in a
/// part
///         or shows an edge, a camera that has moved between the two, those of find_display
/// source  grid and formula: common practice, no source; flat-field correction: common practice, no source; the rest
///         ours
[[nodiscard]] Result<std::vector<FieldGrid>> measure_field(const LinearPicture& field, const LinearPicture& again,
                                                           const LinearPicture& flat, const FieldOptions& options);

}  // namespace provenit::evaluation
