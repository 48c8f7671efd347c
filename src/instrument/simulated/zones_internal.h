#pragma once
// A backlight of zones: which zones a picture lights, and how much of that arrives at the spot.
#include <array>
#include <vector>

#include "provenit/signal/signal.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// Share of a cell [x0, x1] x [y0, y1] (picture = unit square) that is `patch`.
[[nodiscard]] double patch_share(const signal::Geometry& geometry, double x0, double x1, double y0, double y1);
/// Whether the picture shows `patch` at this point.
[[nodiscard]] bool is_patch_at(const signal::Geometry& geometry, double x, double y);

/// How the light of one zone arrives at the spot: a core spread as a Gaussian, and a wide halo.
class Spread {
 public:
  /// error: that of the display's own idea of it; 0 for the truth.
  Spread(const Zones& zones, double aspect, double spot_x, double spot_y, double error);
  /// Lengths in zone heights.
  [[nodiscard]] double of_zone(int column, int row) const;
  [[nodiscard]] double of_all() const;

 private:
  [[nodiscard]] double gaussian(double from, double to) const;
  int rows_, columns_;
  double width_, x_, y_, sigma_, halo_share_, halo_;
};

/// What one zone has to show: largest and mean of its pixels' largest channel drives.
struct ZoneContent {
  double largest = 0, mean = 0;
};

class ZoneField {
 public:
  using Drives = std::vector<double>;  ///< row by row from the top left, each in [0, 1]

  ZoneField(const Zones& zones, double aspect, double spot_x, double spot_y);

  /// Drive of each zone for this picture; *_demand: largest channel drive of patch and surround, in [0, 1].
  [[nodiscard]] Drives drives(const signal::Geometry& geometry, double patch_demand, double surround_demand) const;
  /// The same for any picture, zone by zone.
  [[nodiscard]] Drives drives(const std::vector<ZoneContent>& picture) const;
  /// Light at the spot, 1 = all zones full at the centre of the picture; and the display's own estimate of it.
  struct Response {
    double actual = 0, estimate = 0;
  };
  [[nodiscard]] Response response(const Drives& drives) const;

 private:
  [[nodiscard]] double drive(double demand) const;
  [[nodiscard]] Drives with_neighbours(const Drives& own) const;
  Zones zones_;
  std::vector<Response> weights_;
};

}  // namespace provenit::simulated
