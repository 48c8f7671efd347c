#pragma once
// Scales, ticks and the two axes of a chart.
#include <string>
#include <vector>

#include "drawing.h"

namespace provenit::publish {

struct Scale {
  double low = 0, high = 1;  ///< values; above 0 if logarithmic
  double from = 0, to = 1;   ///< px of `low` and of `high`
  bool logarithmic = false;
  [[nodiscard]] double operator()(double value) const;  ///< px; values beyond the ends lie on them
  [[nodiscard]] bool holds(double value) const { return value >= low && value <= high; }
};

struct Tick {
  double value = 0;
  std::string label;
  bool first = false;  ///< keeps its label where there is no room for all
};
/// Round steps from `low` to `high` or just inside, about `count` of them.
[[nodiscard]] std::vector<Tick> even_ticks(double low, double high, int count);
/// Powers of ten, which come first; with twos and fives where about two decades or fewer are spanned.
[[nodiscard]] std::vector<Tick> decade_ticks(double low, double high);
/// The next round number at or above a positive one.
[[nodiscard]] double round_up(double value);

/// Draws grid and labels; labels that would touch are left out. `labelled` false: grid alone.
void draw_left_axis(Drawing& drawing, const Box& plot, const Scale& scale, const std::vector<Tick>& ticks,
                    bool labelled);
void draw_bottom_axis(Drawing& drawing, const Box& plot, const Scale& scale, const std::vector<Tick>& ticks,
                      bool labelled);

}  // namespace provenit::publish
