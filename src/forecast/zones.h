#pragma once
// The backlight of zones as the forecast assumes it: what a picture asks of each zone, what each is driven at, and how
// much light arrives at a place.
#include <span>
#include <vector>

#include "provenit/forecast/display.h"

namespace provenit::forecast {

struct ZoneContent {
  double largest = 0, mean = 0;  ///< demand of the pixels in a zone, 0 to 1
};

/// Drive of each zone, row by row from the top left.
[[nodiscard]] std::vector<double> zone_drives(const Optics& optics, std::span<const ZoneContent> content);
[[nodiscard]] double mean_of(std::span<const double> drives);

/// Share of each zone that shows the patch of a geometry.
[[nodiscard]] std::vector<double> patch_shares(const Optics& optics, const signal::Geometry& geometry);
/// Whether the geometry shows its patch at a place; and on what share of the picture.
[[nodiscard]] bool shows_patch(const signal::Geometry& geometry, double x, double y);
[[nodiscard]] double patch_share(const signal::Geometry& geometry);

/// Light of all zones at places of a grid, 1 for full drive everywhere at the centre of the picture. The grid's nodes
/// lie at i / (across - 1), j / (down - 1).
class BacklightMap {
 public:
  BacklightMap(const Optics& optics, const std::vector<double>& x, const std::vector<double>& y);
  /// Row by row: x.size() times y.size() numbers.
  [[nodiscard]] std::vector<float> at(std::span<const double> drives) const;

 private:
  struct Part {
    std::vector<float> across, down;  ///< light of each column at each x, of each row at each y
  };
  int columns_, rows_;
  std::size_t width_, height_;
  std::array<Part, 3> parts_;
};

}  // namespace provenit::forecast
