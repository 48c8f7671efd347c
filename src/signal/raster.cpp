#include "provenit/signal/raster.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace provenit::signal {
namespace {

constexpr int largest_side = 32768;

/// Nearest to `wanted` of the numbers of pixels that leave equal borders.
int centred_length(double wanted, int side) {
  const int parity = side % 2;
  const int length = 2 * static_cast<int>(std::lround((wanted - parity) / 2)) + parity;
  return std::clamp(length, 2 - parity, side);
}

/// First pixel of a length whose middle lies nearest to `centre`, a share of the side.
int placed(double centre, int length, int side) {
  return std::clamp(static_cast<int>(std::lround(centre * side - length / 2.0)), 0, side - length);
}

/// n + 1 boundaries from 0 to side, symmetric about the middle; where an even n has its middle one between two pixels,
/// it lies right of or below them.
std::vector<int> boundaries(int side, int n) {
  std::vector<int> at(static_cast<std::size_t>(n) + 1);
  for (int k = 0; 2 * k <= n; ++k) {
    const int offset = (2 * k * side + n) / (2 * n);  // k side / n to the nearest pixel
    at[static_cast<std::size_t>(n - k)] = side - offset;
    at[static_cast<std::size_t>(k)] = offset;
  }
  return at;
}

/// Which square a pixel is in: 0 for the first.
int square_of(const std::vector<int>& boundaries, int pixel) {
  return static_cast<int>(std::upper_bound(boundaries.begin(), boundaries.end(), pixel) - boundaries.begin()) - 1;
}

}  // namespace

Result<Raster> Raster::make(const Signal& signal, RasterSize size) {
  if (const auto ok = validate(signal); !ok) return tl::unexpected(ok.error());
  if (size.width < 1 || size.height < 1 || size.width > largest_side || size.height > largest_side)
    return fail(ErrorCode::out_of_range,
                fmt::format("a raster of {} x {} pixels cannot be made", size.width, size.height),
                fmt::format("Give 1 to {} pixels each way.", largest_side), {.field = "raster"});
  const auto& g = signal.geometry;
  Raster raster;
  raster.signal_ = signal;
  raster.size_ = size;
  raster.patch_ = {.width = size.width, .height = size.height};
  if (g.shape == Shape::window) {
    const double share = std::sqrt(g.area_fraction);
    const auto side = [share](double centre, int pixels) {
      return centre == 0.5 ? centred_length(share * pixels, pixels)
                           : std::clamp(static_cast<int>(std::lround(share * pixels)), 1, pixels);
    };
    const int width = side(g.centre_x, size.width), height = side(g.centre_y, size.height);
    raster.patch_ = {.left = placed(g.centre_x, width, size.width),
                     .top = placed(g.centre_y, height, size.height),
                     .width = width,
                     .height = height};
  } else if (g.shape == Shape::checkerboard) {
    if (g.columns > size.width || g.rows > size.height)
      return fail(ErrorCode::out_of_range,
                  fmt::format("a checkerboard of {} x {} is finer than {} x {} pixels", g.columns, g.rows, size.width,
                              size.height),
                  "Give fewer squares or a larger raster.", {.field = "geometry.columns"});
    raster.columns_ = boundaries(size.width, g.columns);
    raster.rows_ = boundaries(size.height, g.rows);
    const auto middle_column = static_cast<std::size_t>(g.columns / 2),
               middle_row = static_cast<std::size_t>(g.rows / 2);
    raster.patch_ = {.left = raster.columns_[middle_column],
                     .top = raster.rows_[middle_row],
                     .width = raster.columns_[middle_column + 1] - raster.columns_[middle_column],
                     .height = raster.rows_[middle_row + 1] - raster.rows_[middle_row]};
  }
  return raster;
}

double Raster::area_fraction_reached() const {
  return (1.0 * patch_.width * patch_.height) / (1.0 * size_.width * size_.height);
}

const CodeRgb& Raster::at(int x, int y) const {
  if (signal_.geometry.shape != Shape::checkerboard) return patch_.holds(x, y) ? signal_.patch : signal_.surround;
  const int from_centre =
      square_of(columns_, x) - signal_.geometry.columns / 2 + square_of(rows_, y) - signal_.geometry.rows / 2;
  return from_centre % 2 == 0 ? signal_.patch : signal_.surround;
}

std::vector<std::uint16_t> Raster::row(int y) const {
  std::vector<std::uint16_t> out;
  out.reserve(3 * static_cast<std::size_t>(size_.width));
  for (int x = 0; x < size_.width; ++x)
    for (const int code : at(x, y).code) out.push_back(static_cast<std::uint16_t>(code));
  return out;
}

}  // namespace provenit::signal
