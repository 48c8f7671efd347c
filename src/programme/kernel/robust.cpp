#include <algorithm>
#include <array>
#include <numeric>

#include "kernel/extremes.h"

namespace provenit::programme::kernel {
namespace {

/// Squares of side x side pixels (3, or what a small picture allows) in one rectangle.
class Squares {
 public:
  Squares(const Plan& plan, const Picture& picture, Scratch& scratch)
      : plan_(plan),
        picture_(picture),
        scratch_(scratch),
        across_(std::min(3, plan.grid.width)),
        down_(std::min(3, plan.grid.height)) {}

  /// Raises best to the largest level of a square inside the rectangle, whose light the scratch holds.
  void search(const Rect& rect, double& best) {
    const int columns = rect.width - across_ + 1;
    lowest_.resize(std::max(columns, 0));
    for (int y = 0; y + down_ <= rect.height; ++y) {
      erode_row(rect, y, columns);
      const auto limit = saturated(plan_.tolerance.below(best));
      for (int x = 0; x < columns; ++x)
        if (lowest_[x] >= limit) best = std::max(best, exact_level(rect, x, y, lowest_[x]));
    }
  }

 private:
  /// lowest_[x]: the least light of the square whose first pixel is x, y in the rectangle.
  void erode_row(const Rect& rect, int y, int columns) {
    column_.resize(rect.width);
    const float* first = scratch_.max_rgb.data() + std::ptrdiff_t{y} * rect.width;
    const float* second = first + (down_ > 1 ? rect.width : 0);
    const float* third = second + (down_ > 2 ? rect.width : 0);
    for (int x = 0; x < rect.width; ++x) column_[x] = std::min(std::min(first[x], second[x]), third[x]);
    const int b = across_ > 1 ? 1 : 0, c = across_ > 2 ? 2 : b;
    for (int x = 0; x < columns; ++x) lowest_[x] = std::min(std::min(column_[x], column_[x + b]), column_[x + c]);
  }
  /// Least of the exact lights of a square: only pixels near its approximate least can hold it.
  double exact_level(const Rect& rect, int left, int top, float least) {
    const Tolerance& t = plan_.tolerance;
    const auto limit = saturated(t.above(t.above(double{least})));
    double level = plan_.highest;
    for (int y = top; y < top + down_; ++y)
      for (int x = left; x < left + across_; ++x)
        if (scratch_.max_rgb[std::size_t(y) * rect.width + x] <= limit)
          level = std::min(level, scratch_.exact.at(plan_, picture_, rect.x + x, rect.y + y).max_rgb);
    return level;
  }

  const Plan& plan_;
  const Picture& picture_;
  Scratch& scratch_;
  int across_, down_;
  std::vector<float> column_, lowest_;
};

}  // namespace

void fill_robust(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch,
                 FrameFigures& figures) {
  const Grid& grid = plan.grid;
  std::vector<int> order(scratch.cells.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(), [&](int a, int b) {
    const double first = scratch.cells[a].square_bound, second = scratch.cells[b].square_bound;
    return first > second || (first == second && a < b);
  });
  Squares squares(plan, picture, scratch);
  double best = 0;
  for (const int i : order) {
    const RectFigures& cell = scratch.cells[i];
    if (plan.tolerance.above(cell.square_bound) <= best || best >= plan.highest) break;
    const Rect rect = grid.cell(i % grid.columns, i / grid.columns);
    if (cell.flat && rect.width >= 3 && rect.height >= 3) {
      // No square that shares a pixel with this cell is above the cell's own level.
      best = std::max(best, scratch.exact.at(plan, picture, rect.x, rect.y).max_rgb);
      continue;
    }
    const Rect around{.x = rect.x - 1, .y = rect.y - 1, .width = rect.width + 2, .height = rect.height + 2};
    const Rect whole{.x = 0, .y = 0, .width = grid.width, .height = grid.height};
    const Rect seen = intersection(around, whole);
    level.evaluate(plan, picture, seen, scratch);
    squares.search(seen, best);
  }
  figures.max_rgb_robust = best;
}

}  // namespace provenit::programme::kernel
