#pragma once
// The grid that a frame is measured on, and what is known of each of its cells.
#include <cstdint>
#include <limits>
#include <vector>

#include "provenit/colour/matrix3.h"
#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme::kernel {

struct Rect {
  int x = 0, y = 0, width = 0, height = 0;
  [[nodiscard]] std::int64_t pixels() const { return std::int64_t{width} * height; }
  [[nodiscard]] bool empty() const { return width <= 0 || height <= 0; }
};

/// Common part; empty if there is none.
[[nodiscard]] Rect intersection(const Rect& a, const Rect& b);

struct Grid {
  int edge = 16, columns = 0, rows = 0;
  int width = 0, height = 0;
  explicit Grid(const PictureFormat& format);
  [[nodiscard]] Rect cell(int column, int row) const;
};

/// What one rectangle of pixels gives. Sums are of light in cd/m2. Extremes are those of the level's arithmetic: within
/// its tolerance (plan.h) of the exact ones.
struct RectFigures {
  double r = 0, g = 0, b = 0, max_rgb = 0;  ///< sums
  double max_rgb_max = 0, luminance_max = 0;
  double luminance_min = std::numeric_limits<double>::infinity();
  double square_bound = 0;  ///< no 3 x 3 square that has an aligned 2 x 2 block in here is above this
  bool flat = false;        ///< all samples are equal, chroma around included

  /// Of the two rectangles together.
  void add(const RectFigures& other);
};

/// Shares that are read off the cells, and the map of blocks.
void fill_cell_figures(const Grid& grid, const std::vector<RectFigures>& cells, const colour::Matrix3<>& to_xyz,
                       FrameRecord& record);

}  // namespace provenit::programme::kernel
