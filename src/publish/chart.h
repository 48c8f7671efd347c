#pragma once
// A chart of the site: what it is called, how it is drawn at any size, and the numbers in it.
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "drawing.h"
#include "provenit/base/error.h"
#include "provenit/shelf/item.h"

namespace provenit::publish {

struct Numbers {
  std::vector<std::string> columns;
  std::vector<std::vector<std::string>> rows;
};

struct Chart {
  std::string id, title, caption;
  Numbers numbers;                       ///< row i says what spot i of the drawing is
  double rise = 0.5, narrow_rise = 0.8;  ///< height over width on a wide and on a narrow page
  std::function<void(Drawing&)> draw;
};

/// Displays that a chart shows: one on its own page (the others in grey behind it), or all, each in a panel.
struct Subjects {
  std::span<const shelf::Item> items;
  std::vector<std::size_t> shown;  ///< indices of `items`
};

/// The charts that these displays have numbers for, in the site's order. The items must outlive them.
[[nodiscard]] std::vector<Chart> charts_of(const Subjects& subjects);
/// Of these, those that stand on a topic's page.
[[nodiscard]] std::vector<Chart> charts_of(const Subjects& subjects, std::string_view topic);

/// The gamut triangles in u', v'; empty `draw` if no display has one.
[[nodiscard]] Chart gamut_chart(const Subjects& subjects);

/// Every display's value and interval of one quantity on one line each. `names`: as shown; `marks[i]` not empty: not
/// comparable.
struct Rung {
  std::string name;
  const store::FindingRecord* finding = nullptr;
  bool comparable = true;
};
[[nodiscard]] Chart ladder_chart(const std::string& id, const std::string& title, const std::vector<Rung>& rungs);

/// How many rows so many panels make.
[[nodiscard]] double rows_of_panels(std::size_t count, std::size_t columns);
/// Panels of equal size for `count` drawings, row by row.
[[nodiscard]] std::vector<Box> panels(const Box& whole, std::size_t count, double widest_rise, double gap_x,
                                      double gap_y, std::size_t columns);

// Files --------------------------------------------------------------------------------------------------------------

enum class Plate { article, video };  ///< light, 1200 px wide; dark, 1920 x 1080
/// The drawing inline in a page, at one of its two widths.
[[nodiscard]] std::string inline_svg(const Chart& chart, bool narrow);
/// The chart as a file with title, caption and `credit` in it, colours and fonts written in.
[[nodiscard]] std::string plate_svg(const Chart& chart, Plate plate, const std::string& credit);
/// An SVG as PNG, by librsvg, as large as it says it is. Errors: io with what librsvg says.
[[nodiscard]] Result<std::string> png_of(const std::string& svg);

}  // namespace provenit::publish
