#pragma once
// The six hues of the saturation sweep, and an orange of low saturation in the region of skin, as light of a container.
#include <algorithm>
#include <array>
#include <string>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::procedure {

struct NamedColour {
  const char* name;
  colour::AbsoluteRgb<> light;  ///< of the container, largest component 1
  bool fixed = false;           ///< its saturation is its own
};

/// Red, yellow, green, cyan, blue, magenta at full saturation in P3-D65 (BT.709 if the container is that), as light of
/// the container.
[[nodiscard]] inline std::vector<NamedColour> six_hues(signal::Container container) {
  const auto inner = container == signal::Container::bt709 ? signal::Container::bt709 : signal::Container::p3_d65;
  const auto to_container = colour::rgb_to_rgb_matrix(signal::primaries_of(inner), signal::primaries_of(container));
  const auto make = [&](const char* name, double r, double g, double b) {
    return NamedColour{name, colour::rgb_from_rgb(colour::AbsoluteRgb<>{.r = r, .g = g, .b = b}, to_container)};
  };
  return {make("red", 1, 0, 0),  make("yellow", 1, 1, 0), make("green", 0, 1, 0),
          make("cyan", 0, 1, 1), make("blue", 0, 0, 1),   make("magenta", 1, 0, 1)};
}

/// The six hues, and "skin": x 0.40, y 0.36, in the middle of the chromaticities of lit skin (from memory; a ramp of
/// the hue that people watch, no sample of anybody's skin).
[[nodiscard]] inline std::vector<NamedColour> clip_colours(signal::Container container) {
  auto colours = six_hues(container);
  const auto xyz = colour::xyz_from_xy(colour::Xy<>{.x = 0.40, .y = 0.36}, colour::Luminance<>{.cdm2 = 1});
  colours.push_back(
      {"skin", colour::rgb_from_xyz(xyz, colour::xyz_to_rgb_matrix(signal::primaries_of(container))), true});
  return colours;
}

/// The same hue with white mixed in linear light: share 1 is the colour, 0 white.
[[nodiscard]] inline colour::AbsoluteRgb<> mixed_with_white(const colour::AbsoluteRgb<>& c, double share) {
  const double white = (1 - share) * std::max({c.r, c.g, c.b});
  return {.r = share * c.r + white, .g = share * c.g + white, .b = share * c.b + white};
}

[[nodiscard]] inline colour::AbsoluteRgb<> with_largest(const colour::AbsoluteRgb<>& c, double cdm2) {
  const double k = cdm2 / std::max({c.r, c.g, c.b});
  return {.r = k * c.r, .g = k * c.g, .b = k * c.b};
}

}  // namespace provenit::procedure
