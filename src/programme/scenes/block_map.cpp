#include "block_map.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace provenit::programme::scenes {
namespace {

// Below this spread of the blocks a map has no structure to compare: 0.003 PQ is under four 10-bit steps.
constexpr double kFlat = 0.003;
constexpr double kOverlap = 0.72;  // of the picture that two shifted maps must share

double dissimilarity_at(const FrameRecord& a, const FrameRecord& b, const Grid& grid, int dx, int dy) {
  double n = 0, difference = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
  for (int y = std::max(0, -dy); y < std::min(grid.rows, grid.rows - dy); ++y)
    for (int x = std::max(0, -dx); x < std::min(grid.columns, grid.columns - dx); ++x) {
      const auto i = static_cast<std::size_t>(y) * static_cast<std::size_t>(grid.columns) + static_cast<std::size_t>(x);
      const double w = grid.share[i], p = level(a, i), q = level(b, i + dy * grid.columns + dx);
      n += w, difference += w * std::abs(p - q);
      sa += w * p, sb += w * q, saa += w * p * p, sbb += w * q * q, sab += w * p * q;
    }
  // What little overlap is left of a small map proves nothing.
  if (n < kOverlap) return std::numeric_limits<double>::infinity();
  const double ma = sa / n, mb = sb / n;
  const double va = saa / n - ma * ma, vb = sbb / n - mb * mb;
  const bool flat = va < kFlat * kFlat || vb < kFlat * kFlat;
  const double correlation = flat ? 0 : std::clamp((sab / n - ma * mb) / std::sqrt(va * vb), 0.0, 1.0);
  return difference / n * std::sqrt(1 - correlation);
}

double frames_per_second(std::span<const FrameRecord> frames) {
  if (frames.size() < 2) return 24;
  const double span = frames.back().figures.time_s - frames.front().figures.time_s;
  return span > 0 ? static_cast<double>(frames.size() - 1) / span : 24;
}

}  // namespace

Grid grid_of(std::span<const FrameRecord> frames, int width, int height) {
  Grid grid;
  if (frames.empty() || width <= 0 || height <= 0) return grid;
  grid.columns = std::clamp(frames.front().block_columns, 0, kBlocks);
  grid.rows = std::clamp(frames.front().block_rows, 0, kBlocks);
  grid.width = width, grid.height = height;
  grid.block = 64 * std::ceil(std::max(width, height) / 1024.0);
  for (int y = 0; y < grid.rows; ++y)
    for (int x = 0; x < grid.columns; ++x) {
      const double w = std::min(grid.block, width - x * grid.block), h = std::min(grid.block, height - y * grid.block);
      grid.share.push_back(std::max(0.0, w) * std::max(0.0, h) / (grid.width * grid.height));
    }
  grid.frames_per_second = frames_per_second(frames);
  return grid;
}

double dissimilarity(const FrameRecord& a, const FrameRecord& b, const Grid& grid) {
  double least = dissimilarity_at(a, b, grid, 0, 0);
  for (int dy = -1; dy <= 1 && least > 0; ++dy)
    for (int dx = -1; dx <= 1; ++dx) least = std::min(least, dissimilarity_at(a, b, grid, dx, dy));
  return std::isfinite(least) ? least : 0;
}

double difference(const FrameRecord& a, const FrameRecord& b, const Grid& grid) {
  double sum = 0;
  for (std::size_t i = 0; i < grid.count(); ++i) sum += grid.share[i] * std::abs(level(b, i) - level(a, i));
  return sum;
}

Levels active_levels(const FrameRecord& frame, const Grid& grid) {
  const auto& active = frame.figures.active;
  const bool all = active.width <= 0 || active.height <= 0;
  double n = 0, sum = 0, squares = 0;
  for (int y = 0; y < grid.rows; ++y)
    for (int x = 0; x < grid.columns; ++x) {
      const double left = x * grid.block, top = y * grid.block;
      const double right = std::min(left + grid.block, grid.width), bottom = std::min(top + grid.block, grid.height);
      const bool inside = left >= active.left && top >= active.top && right <= active.left + active.width &&
                          bottom <= active.top + active.height;
      if (!all && !inside) continue;
      const auto i = static_cast<std::size_t>(y) * static_cast<std::size_t>(grid.columns) + static_cast<std::size_t>(x);
      const double w = grid.share[i], p = level(frame, i);
      n += w, sum += w * p, squares += w * p * p;
    }
  if (!(n > 0)) return {};
  const double mean = sum / n;
  return {.mean = mean, .spread = std::sqrt(std::max(0.0, squares / n - mean * mean))};
}

double distance_from(const FrameRecord& frame, double of, const Grid& grid) {
  double sum = 0;
  for (std::size_t i = 0; i < grid.count(); ++i) sum += grid.share[i] * std::abs(level(frame, i) - of);
  return sum;
}

}  // namespace provenit::programme::scenes
