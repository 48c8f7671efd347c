#pragma once
// Courses over one axis: luminance over window area, deviation over signal, and so on.
#include <string>
#include <string_view>
#include <vector>

#include "chart.h"

namespace provenit::publish {

struct CurvePoint {
  double x = 0, y = 0, lower = 0, upper = 0;
  bool hollow = false;  ///< not counted: above the clip
};

/// What a chart of courses shows, and where a display's points come from.
struct CurveKind {
  std::string_view id, topic, title, caption;
  std::string_view x_title, y_title;
  bool x_log = false, y_log = false;
  double most = 0;  ///< the axis ends here at the latest, both ways; 0: no such end
  std::vector<CurvePoint> (*points)(const shelf::Item& item) = nullptr;
  const char* quantity = "";  ///< whose finding decides whether displays can be compared
};
[[nodiscard]] std::span<const CurveKind> curve_kinds();

/// The first finding of a quantity; nullptr if there is none.
[[nodiscard]] const store::FindingRecord* first_finding(const shelf::Item& item, std::string_view quantity);

/// Empty `draw` if none of the shown displays has two points.
[[nodiscard]] Chart curve_chart(const CurveKind& kind, const Subjects& subjects);

}  // namespace provenit::publish
