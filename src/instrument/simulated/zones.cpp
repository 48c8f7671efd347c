#include <algorithm>
#include <cmath>
#include <numbers>

#include "zones_internal.h"

namespace provenit::simulated {
namespace {

/// Length of [a0, a1] that lies in [b0, b1].
double overlap(double a0, double a1, double b0, double b1) {
  return std::max(0.0, std::min(a1, b1) - std::max(a0, b0));
}

/// Share of [a0, a1] on cells of a `cells`-part division that have the parity of the middle cell.
double same_parity_share(double a0, double a1, int cells) {
  double sum = 0;
  for (int i = (cells / 2) % 2; i < cells; i += 2)
    sum += overlap(a0, a1, static_cast<double>(i) / cells, static_cast<double>(i + 1) / cells);
  return sum / (a1 - a0);
}

bool same_parity_at(double a, int cells) {
  const int i = std::clamp(static_cast<int>(a * cells), 0, cells - 1);
  return (i - cells / 2) % 2 == 0;
}

/// One axis of a picture: checkerboard cells along it, and the window's centre on it.
struct Axis {
  int cells = 0;
  double centre = 0.5;
};
Axis across(const signal::Geometry& geometry) {
  return {geometry.columns, geometry.centre_x};
}
Axis down(const signal::Geometry& geometry) {
  return {geometry.rows, geometry.centre_y};
}

/// Along one axis: share of [a0, a1] inside the window, or on cells like the middle one.
double axis_share(const signal::Geometry& geometry, Axis axis, double a0, double a1) {
  if (geometry.shape == signal::Shape::full_field) return 1;
  if (geometry.shape == signal::Shape::checkerboard) return same_parity_share(a0, a1, axis.cells);
  const double half = std::sqrt(geometry.area_fraction) / 2;
  return overlap(a0, a1, axis.centre - half, axis.centre + half) / (a1 - a0);
}

/// Share of the patch from the shares along both axes.
double combined(const signal::Geometry& geometry, double x, double y) {
  return geometry.shape == signal::Shape::checkerboard ? x * y + (1 - x) * (1 - y) : x * y;
}

std::vector<double> axis_shares(const signal::Geometry& geometry, Axis axis, int zones) {
  std::vector<double> out;
  for (int i = 0; i < zones; ++i)
    out.push_back(axis_share(geometry, axis, static_cast<double>(i) / zones, static_cast<double>(i + 1) / zones));
  return out;
}

}  // namespace

double patch_share(const signal::Geometry& geometry, double x0, double x1, double y0, double y1) {
  return combined(geometry, axis_share(geometry, across(geometry), x0, x1),
                  axis_share(geometry, down(geometry), y0, y1));
}

bool is_patch_at(const signal::Geometry& geometry, double x, double y) {
  if (geometry.shape == signal::Shape::checkerboard)
    return same_parity_at(x, geometry.columns) == same_parity_at(y, geometry.rows);
  if (geometry.shape == signal::Shape::full_field) return true;
  const double half = std::sqrt(geometry.area_fraction) / 2;
  return std::abs(x - geometry.centre_x) <= half && std::abs(y - geometry.centre_y) <= half;
}

Spread::Spread(const Zones& zones, double aspect, double spot_x, double spot_y, double error)
    : rows_(zones.rows),
      columns_(zones.columns),
      width_(aspect * zones.rows / zones.columns),
      x_(spot_x * width_ * columns_),
      y_(spot_y * rows_),
      sigma_(zones.spread_zones * (1 + error)),
      halo_share_(zones.halo_share * (1 + error)),
      halo_(zones.halo_zones) {}

double Spread::of_zone(int column, int row) const {
  const double x0 = column * width_ - x_, y0 = row - y_;
  const double core = gaussian(x0, x0 + width_) * gaussian(y0, y0 + 1);
  const double distance = std::hypot(x0 + width_ / 2, y0 + 0.5);
  const double halo = width_ * std::exp(-distance / halo_) / (2 * std::numbers::pi * halo_ * halo_);
  return (1 - halo_share_) * core + halo_share_ * halo;
}

double Spread::of_all() const {
  double sum = 0;
  for (int row = 0; row < rows_; ++row)
    for (int column = 0; column < columns_; ++column) sum += of_zone(column, row);
  return sum;
}

double Spread::gaussian(double from, double to) const {
  const double s = sigma_ * std::numbers::sqrt2;
  return (std::erf(to / s) - std::erf(from / s)) / 2;
}

ZoneField::ZoneField(const Zones& zones, double aspect, double spot_x, double spot_y) : zones_(zones) {
  const Spread actual(zones, aspect, spot_x, spot_y, 0), estimate(zones, aspect, spot_x, spot_y, zones.estimate_error);
  const double all_actual = Spread(zones, aspect, 0.5, 0.5, 0).of_all();
  const double all_estimate = Spread(zones, aspect, 0.5, 0.5, zones.estimate_error).of_all();
  for (int row = 0; row < zones.rows; ++row)
    for (int column = 0; column < zones.columns; ++column)
      weights_.push_back({actual.of_zone(column, row) / all_actual, estimate.of_zone(column, row) / all_estimate});
}

double ZoneField::drive(double demand) const {
  return zones_.minimum_drive + (1 - zones_.minimum_drive) * std::pow(demand, zones_.drive_exponent);
}

ZoneField::Drives ZoneField::drives(const signal::Geometry& geometry, double patch_demand,
                                    double surround_demand) const {
  // Rounding may leave a hair of a neighbouring colour in a zone whose edge lies on the picture's.
  constexpr double hair = 1e-9;
  const auto by_column = axis_shares(geometry, across(geometry), zones_.columns);
  const auto by_row = axis_shares(geometry, down(geometry), zones_.rows);
  const double all_patch = drive(patch_demand), all_surround = drive(surround_demand);
  const double largest = std::max(patch_demand, surround_demand);
  Drives out;
  out.reserve(weights_.size());
  for (const double y : by_row)
    for (const double x : by_column) {
      const double share = combined(geometry, x, y);
      const double mean = share * patch_demand + (1 - share) * surround_demand;
      out.push_back(share > 1 - hair ? all_patch
                    : share < hair   ? all_surround
                                     : drive(zones_.maximum_share * largest + (1 - zones_.maximum_share) * mean));
    }
  return zones_.neighbour_share > 0 ? with_neighbours(out) : out;
}

ZoneField::Drives ZoneField::drives(const std::vector<ZoneContent>& picture) const {
  Drives out;
  out.reserve(picture.size());
  for (const auto& zone : picture)
    out.push_back(drive(zones_.maximum_share * zone.largest + (1 - zones_.maximum_share) * zone.mean));
  return zones_.neighbour_share > 0 ? with_neighbours(out) : out;
}

ZoneField::Drives ZoneField::with_neighbours(const Drives& own) const {
  // Largest of three along the rows, then of three of those down the columns.
  const int columns = zones_.columns, rows = zones_.rows;
  Drives wide = own, out = own;
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column)
      for (int c = std::max(0, column - 1); c <= std::min(columns - 1, column + 1); ++c)
        wide[row * columns + column] = std::max(wide[row * columns + column], own[row * columns + c]);
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column)
      for (int r = std::max(0, row - 1); r <= std::min(rows - 1, row + 1); ++r)
        out[row * columns + column] =
            std::max(out[row * columns + column], zones_.neighbour_share * wide[r * columns + column]);
  return out;
}

ZoneField::Response ZoneField::response(const Drives& drives) const {
  Response sum;
  for (std::size_t i = 0; i < drives.size(); ++i) {
    sum.actual += weights_[i].actual * drives[i];
    sum.estimate += weights_[i].estimate * drives[i];
  }
  return sum;
}

}  // namespace provenit::simulated
