#include "kernel/extremes.h"

#include <algorithm>

namespace provenit::programme::kernel {
namespace {

/// Visits cells that may matter, row by row. `wanted` sees a cell's figures; `visit` gets its rectangle with the
/// scratch's light filled in. Of a flat cell, whose pixels are all the same, only the first pixel is shown.
template <class Wanted, class Visit>
void visit_cells(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch, const Wanted& wanted,
                 const Visit& visit) {
  for (int row = 0; row < plan.grid.rows; ++row)
    for (int column = 0; column < plan.grid.columns; ++column) {
      const RectFigures& cell = scratch.cells[row * plan.grid.columns + column];
      Rect rect = plan.grid.cell(column, row);
      if (!wanted(cell, rect)) continue;
      if (cell.flat) rect.width = rect.height = 1;
      level.evaluate(plan, picture, rect, scratch);
      visit(rect);
    }
}

class Brightest {
 public:
  Brightest(const Plan& plan, const Picture& picture, Scratch& scratch, FrameFigures& figures)
      : plan_(plan), picture_(picture), scratch_(scratch), f_(figures) {
    f_.max_rgb_max = -1;
    for (const RectFigures& cell : scratch.cells) largest_ = std::max(largest_, cell.max_rgb_max);
  }
  /// What a pixel's approximate light must reach to count, both sides of the comparison being approximate.
  [[nodiscard]] double threshold() const { return plan_.tolerance.below(plan_.tolerance.below(largest_)); }
  [[nodiscard]] bool wanted(const RectFigures& cell, const Rect& rect) const {
    // Once the highest light there can be is found, only earlier rows matter.
    if (f_.max_rgb_max >= plan_.highest && rect.y > f_.brightest_y) return false;
    return cell.max_rgb_max >= threshold();
  }
  void visit(const Rect& rect) {
    const auto limit = saturated(threshold());
    std::size_t i = 0;
    for (int y = rect.y; y < rect.y + rect.height; ++y) {
      if (f_.max_rgb_max >= plan_.highest && y > f_.brightest_y) return;
      for (int x = rect.x; x < rect.x + rect.width; ++x, ++i)
        if (scratch_.max_rgb[i] >= limit) consider(x, y);
    }
  }

 private:
  void consider(int x, int y) {
    const double v = scratch_.exact.at(plan_, picture_, x, y).max_rgb;
    const bool earlier = y < f_.brightest_y || (y == f_.brightest_y && x < f_.brightest_x);
    if (v < f_.max_rgb_max || (v == f_.max_rgb_max && !earlier)) return;
    f_.max_rgb_max = v;
    f_.brightest_x = x;
    f_.brightest_y = y;
  }
  const Plan& plan_;
  const Picture& picture_;
  Scratch& scratch_;
  FrameFigures& f_;
  double largest_ = 0;
};

/// Largest luminance, or with Sign -1 the smallest.
template <int Sign>
double extreme_luminance(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch) {
  const auto of_cell = [](const RectFigures& c) { return Sign > 0 ? c.luminance_max : c.luminance_min; };
  double near = of_cell(scratch.cells.front());
  for (const RectFigures& c : scratch.cells) near = Sign > 0 ? std::max(near, of_cell(c)) : std::min(near, of_cell(c));
  const Tolerance& t = plan.tolerance;
  const double limit = Sign > 0 ? t.below(t.below(near)) : t.above(t.above(near));
  const auto reaches = [limit](double v) { return Sign > 0 ? v >= limit : v <= limit; };
  const double bound = Sign > 0 ? plan.highest : 0;
  double best = -1;
  const auto done = [&] { return best >= 0 && (Sign > 0 ? best >= bound : best <= bound); };
  const auto wanted = [&](const RectFigures& cell, const Rect& /*unused*/) {
    return !done() && reaches(of_cell(cell));
  };
  visit_cells(plan, level, picture, scratch, wanted, [&](const Rect& rect) {
    for (std::size_t i = 0; i < static_cast<std::size_t>(rect.pixels()) && !done(); ++i) {
      if (!reaches(scratch.luminance[i])) continue;
      const int x = rect.x + static_cast<int>(i) % rect.width, y = rect.y + static_cast<int>(i) / rect.width;
      const double v = scratch.exact.at(plan, picture, x, y).luminance;
      if (best < 0 || (Sign > 0 ? v > best : v < best)) best = v;
    }
  });
  return best;
}

}  // namespace

void fill_extremes(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch,
                   FrameFigures& figures) {
  Brightest brightest(plan, picture, scratch, figures);
  visit_cells(
      plan, level, picture, scratch,
      [&](const RectFigures& cell, const Rect& rect) { return brightest.wanted(cell, rect); },
      [&](const Rect& rect) { brightest.visit(rect); });
  figures.luminance_max = extreme_luminance<1>(plan, level, picture, scratch);
  figures.luminance_min = extreme_luminance<-1>(plan, level, picture, scratch);
}

}  // namespace provenit::programme::kernel
