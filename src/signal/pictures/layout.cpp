#include "pictures/layout.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace provenit::signal::pictures {

int cut(int side, int n, int k) {
  const auto nearest = [&](std::int64_t part) {
    return static_cast<int>((2 * part * side + n) / (2 * static_cast<std::int64_t>(n)));
  };
  return 2 * k <= n ? nearest(k) : side - nearest(n - k);
}

PixelRectangle cell(const PixelRectangle& area, int columns, int rows, int column, int row) {
  const int left = cut(area.width, columns, column), top = cut(area.height, rows, row);
  return {.left = area.left + left,
          .top = area.top + top,
          .width = cut(area.width, columns, column + 1) - left,
          .height = cut(area.height, rows, row + 1) - top};
}

PixelRectangle whole(RasterSize size) {
  return {.width = size.width, .height = size.height};
}

PixelRectangle inset(const PixelRectangle& area, int pixels) {
  const int across = std::min(pixels, (area.width - 1) / 2), down = std::min(pixels, (area.height - 1) / 2);
  return {.left = area.left + across,
          .top = area.top + down,
          .width = area.width - 2 * across,
          .height = area.height - 2 * down};
}

int centred_length(double wanted, int side) {
  const int parity = side % 2;
  const int length = 2 * static_cast<int>(std::lround((wanted - parity) / 2)) + parity;
  return std::clamp(length, std::min(2 - parity, side), side);
}

PixelRectangle centred(const PixelRectangle& area, double width, double height) {
  const int w = centred_length(width, area.width), h = centred_length(height, area.height);
  return {.left = area.left + (area.width - w) / 2, .top = area.top + (area.height - h) / 2, .width = w, .height = h};
}

PixelRectangle window(RasterSize size, double area_percent) {
  const double share = std::sqrt(area_percent / 100);
  return centred(whole(size), share * size.width, share * size.height);
}

int percent_of(int length, double percent, int least) {
  return std::max(least, static_cast<int>(std::lround(length * percent / 100)));
}

bool overlap(const PixelRectangle& a, const PixelRectangle& b) {
  return a.left < b.left + b.width && b.left < a.left + a.width && a.top < b.top + b.height && b.top < a.top + a.height;
}

}  // namespace provenit::signal::pictures
