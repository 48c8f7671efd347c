#include "kernel/cells.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/transfer_pq.h"

namespace provenit::programme::kernel {
namespace {

constexpr int kCellsPerBlock = 4;
constexpr double kBright = 100 * (1 - 1e-5);  // 100 cd/m2, which rounding must not miss: it is the peak of SDR

double luminance_sum(const RectFigures& cell, const colour::Matrix3<>& to_xyz) {
  return to_xyz(1, 0) * cell.r + to_xyz(1, 1) * cell.g + to_xyz(1, 2) * cell.b;
}

/// Whether one of the up to 8 cells around has a pixel with max(R,G,B) of 100 cd/m2 or more.
bool bright_neighbour(const Grid& grid, const std::vector<RectFigures>& cells, int column, int row) {
  for (int y = std::max(row - 1, 0); y <= std::min(row + 1, grid.rows - 1); ++y)
    for (int x = std::max(column - 1, 0); x <= std::min(column + 1, grid.columns - 1); ++x)
      if ((x != column || y != row) && cells[y * grid.columns + x].max_rgb_max >= kBright) return true;
  return false;
}

void fill_blocks(const Grid& grid, const std::vector<RectFigures>& cells, const colour::Matrix3<>& to_xyz,
                 FrameRecord& record) {
  record.block_columns = (grid.columns + kCellsPerBlock - 1) / kCellsPerBlock;
  record.block_rows = (grid.rows + kCellsPerBlock - 1) / kCellsPerBlock;
  std::array<double, kBlocks * kBlocks> sum{};
  std::array<std::int64_t, kBlocks * kBlocks> pixels{};
  for (int y = 0; y < grid.rows; ++y)
    for (int x = 0; x < grid.columns; ++x) {
      const int block = y / kCellsPerBlock * record.block_columns + x / kCellsPerBlock;
      sum[block] += luminance_sum(cells[y * grid.columns + x], to_xyz);
      pixels[block] += grid.cell(x, y).pixels();
    }
  for (int i = 0; i < record.block_columns * record.block_rows; ++i) {
    const colour::Luminance<> mean{.cdm2 = sum[i] / static_cast<double>(pixels[i])};
    const double signal = std::clamp(colour::pq_inverse_eotf(mean).value, 0.0, 1.0);
    record.blocks[i] = static_cast<std::uint16_t>(std::lround(signal * 65535));
  }
}

}  // namespace

Rect intersection(const Rect& a, const Rect& b) {
  const int x = std::max(a.x, b.x), y = std::max(a.y, b.y);
  const int right = std::min(a.x + a.width, b.x + b.width), bottom = std::min(a.y + a.height, b.y + b.height);
  if (right <= x || bottom <= y) return {};
  return {.x = x, .y = y, .width = right - x, .height = bottom - y};
}

Grid::Grid(const PictureFormat& format) : width(format.width), height(format.height) {
  edge = 16 * ((std::max(width, height) + 1023) / 1024);
  columns = (width + edge - 1) / edge;
  rows = (height + edge - 1) / edge;
}

Rect Grid::cell(int column, int row) const {
  const int x = column * edge, y = row * edge;
  return {.x = x, .y = y, .width = std::min(edge, width - x), .height = std::min(edge, height - y)};
}

void RectFigures::add(const RectFigures& other) {
  r += other.r;
  g += other.g;
  b += other.b;
  max_rgb += other.max_rgb;
  max_rgb_max = std::max(max_rgb_max, other.max_rgb_max);
  luminance_max = std::max(luminance_max, other.luminance_max);
  luminance_min = std::min(luminance_min, other.luminance_min);
  square_bound = max_rgb_max;  // a block may lie across both
  flat = false;
}

void fill_cell_figures(const Grid& grid, const std::vector<RectFigures>& cells, const colour::Matrix3<>& to_xyz,
                       FrameRecord& record) {
  int dark = 0, detail = 0;
  for (int y = 0; y < grid.rows; ++y)
    for (int x = 0; x < grid.columns; ++x) {
      const RectFigures& cell = cells[y * grid.columns + x];
      const double mean = luminance_sum(cell, to_xyz) / static_cast<double>(grid.cell(x, y).pixels());
      if (mean < 1 && bright_neighbour(grid, cells, x, y)) ++dark;
      if (mean >= 0.005 && mean <= 1 && cell.luminance_max >= 1.5 * std::max(cell.luminance_min, 0.005)) ++detail;
    }
  const double count = grid.columns * grid.rows;
  record.figures.dark_beside_bright = dark / count;
  record.figures.near_black_detail = detail / count;
  fill_blocks(grid, cells, to_xyz, record);
}

}  // namespace provenit::programme::kernel
