#include "zones.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace provenit::forecast {
namespace {

double overlap(double a0, double a1, double b0, double b1) {
  return std::max(0.0, std::min(a1, b1) - std::max(a0, b0));
}

bool like_middle(int cell, int cells) {
  return (cell - cells / 2) % 2 == 0;
}

/// Share of [from, to] of one axis inside the window, or on cells like the middle one.
double axis_share(const signal::Geometry& g, bool across, double from, double to) {
  if (g.shape == signal::Shape::full_field) return 1;
  if (g.shape == signal::Shape::window) {
    const double half = std::sqrt(g.area_fraction) / 2, centre = across ? g.centre_x : g.centre_y;
    return overlap(from, to, centre - half, centre + half) / (to - from);
  }
  const int cells = across ? g.columns : g.rows;
  double sum = 0;
  for (int i = 0; i < cells; ++i)
    if (like_middle(i, cells))
      sum += overlap(from, to, static_cast<double>(i) / cells, static_cast<double>(i + 1) / cells);
  return sum / (to - from);
}

double together(const signal::Geometry& g, double x, double y) {
  return g.shape == signal::Shape::checkerboard ? x * y + (1 - x) * (1 - y) : x * y;
}

/// Light at `places` of each of `zones` along one axis, lengths in zone heights.
std::vector<float> light_along(const std::vector<double>& places, int zones, double zone_length, double sigma) {
  std::vector<float> out;
  out.reserve(places.size() * static_cast<std::size_t>(zones));
  const double scale = 1 / (sigma * std::numbers::sqrt2);
  for (const double p : places) {
    const double at = p * zones * zone_length;
    double before = std::erf(-at * scale);
    for (int z = 0; z < zones; ++z) {
      const double after = std::erf(((z + 1) * zone_length - at) * scale);
      out.push_back(static_cast<float>((after - before) / 2));
      before = after;
    }
  }
  return out;
}

}  // namespace

std::vector<double> zone_drives(const Optics& optics, std::span<const ZoneContent> content) {
  const int columns = optics.columns, rows = optics.rows;
  std::vector<double> own;
  own.reserve(content.size());
  double last = -1, last_drive = 0;
  for (const auto& zone : content) {
    const double asked = optics.largest_share * zone.largest + (1 - optics.largest_share) * zone.mean;
    if (asked != last) {
      last = asked;
      last_drive =
          optics.minimum_drive + (1 - optics.minimum_drive) * std::pow(std::clamp(asked, 0.0, 1.0), optics.exponent);
    }
    own.push_back(last_drive);
  }
  const double s = optics.neighbour_share;
  if (s <= 0) return own;
  const double diagonal = std::pow(s, std::numbers::sqrt2);
  auto out = own;
  const auto raise = [&](int row, int column, int from_row, int from_column, double share) {
    if (from_row < 0 || from_row >= rows || from_column < 0 || from_column >= columns) return;
    const auto at = [columns](int r, int c) {
      return static_cast<std::size_t>(r) * static_cast<std::size_t>(columns) + static_cast<std::size_t>(c);
    };
    auto& v = out[at(row, column)];
    v = std::max(v, share * own[at(from_row, from_column)]);
  };
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column) {
      raise(row, column, row, column - 1, s);
      raise(row, column, row, column + 1, s);
      raise(row, column, row - 1, column, s);
      raise(row, column, row + 1, column, s);
      for (const int r : {row - 1, row + 1})
        for (const int c : {column - 1, column + 1}) raise(row, column, r, c, diagonal);
    }
  return out;
}

double mean_of(std::span<const double> drives) {
  return drives.empty() ? 0 : std::accumulate(drives.begin(), drives.end(), 0.0) / static_cast<double>(drives.size());
}

std::vector<double> patch_shares(const Optics& optics, const signal::Geometry& geometry) {
  std::vector<double> across, out;
  for (int c = 0; c < optics.columns; ++c)
    across.push_back(axis_share(geometry, true, static_cast<double>(c) / optics.columns,
                                static_cast<double>(c + 1) / optics.columns));
  for (int r = 0; r < optics.rows; ++r) {
    const double down =
        axis_share(geometry, false, static_cast<double>(r) / optics.rows, static_cast<double>(r + 1) / optics.rows);
    for (const double x : across) out.push_back(together(geometry, x, down));
  }
  return out;
}

bool shows_patch(const signal::Geometry& g, double x, double y) {
  if (g.shape == signal::Shape::full_field) return true;
  if (g.shape == signal::Shape::checkerboard) {
    const auto cell = [](double at, int cells) { return std::clamp(static_cast<int>(at * cells), 0, cells - 1); };
    return like_middle(cell(x, g.columns), g.columns) == like_middle(cell(y, g.rows), g.rows);
  }
  const double half = std::sqrt(g.area_fraction) / 2;
  return std::abs(x - g.centre_x) <= half && std::abs(y - g.centre_y) <= half;
}

double patch_share(const signal::Geometry& geometry) {
  return together(geometry, axis_share(geometry, true, 0, 1), axis_share(geometry, false, 0, 1));
}

BacklightMap::BacklightMap(const Optics& optics, const std::vector<double>& x, const std::vector<double>& y)
    : columns_(optics.columns), rows_(optics.rows), width_(x.size()), height_(y.size()) {
  const double zone_width = optics.aspect * optics.rows / optics.columns;
  double all = 0;
  for (std::size_t k = 0; k < parts_.size(); ++k) {
    const double sigma = optics.spread_zones[k];
    parts_[k].across = light_along(x, columns_, zone_width, sigma);
    parts_[k].down = light_along(y, rows_, 1, sigma);
    const auto cx = light_along({0.5}, columns_, zone_width, sigma), cy = light_along({0.5}, rows_, 1, sigma);
    all += optics.spread_share[k] * std::accumulate(cx.begin(), cx.end(), 0.0) *
           std::accumulate(cy.begin(), cy.end(), 0.0);
  }
  for (std::size_t k = 0; k < parts_.size(); ++k)
    for (float& v : parts_[k].down) v *= static_cast<float>(optics.spread_share[k] / all);
}

std::vector<float> BacklightMap::at(std::span<const double> drives) const {
  std::vector<float> out(width_ * height_, 0.0F), along(static_cast<std::size_t>(rows_) * width_);
  const auto columns = static_cast<std::size_t>(columns_), rows = static_cast<std::size_t>(rows_);
  for (const auto& part : parts_) {
    for (std::size_t r = 0; r < rows; ++r)
      for (std::size_t i = 0; i < width_; ++i) {
        float sum = 0;
        for (std::size_t c = 0; c < columns; ++c)
          sum += part.across[i * columns + c] * static_cast<float>(drives[r * columns + c]);
        along[r * width_ + i] = sum;
      }
    for (std::size_t j = 0; j < height_; ++j)
      for (std::size_t r = 0; r < rows; ++r) {
        const float weight = part.down[j * rows + r];
        for (std::size_t i = 0; i < width_; ++i) out[j * width_ + i] += weight * along[r * width_ + i];
      }
  }
  return out;
}

}  // namespace provenit::forecast
