// Which courses there are, and how a display's findings give their points (series: docs/report.md and docs/methods).
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "curves.h"

namespace provenit::publish {
namespace {

using Points = std::vector<CurvePoint>;

double number_at(const nlohmann::json& row, const char* key) {
  const auto found = row.find(key);
  return found != row.end() && found->is_number() ? found->get<double>() : std::nan("");
}

Points sorted(Points points) {
  std::erase_if(points, [](const CurvePoint& p) { return !std::isfinite(p.x) || !std::isfinite(p.y); });
  for (auto& p : points) {
    if (!std::isfinite(p.lower)) p.lower = p.y;
    if (!std::isfinite(p.upper)) p.upper = p.y;
  }
  std::ranges::sort(points, {}, &CurvePoint::x);
  return points;
}

/// Findings of one quantity, each a point at what `x` reads from its conditions.
template <class X>
Points by_condition(const shelf::Item& item, std::string_view quantity, X x) {
  Points out;
  for (const auto& f : item.findings)
    if (f.quantity == quantity)
      if (const std::optional<double> at = x(f.conditions)) out.push_back({*at, f.value, f.lower95, f.upper95});
  return sorted(std::move(out));
}

Points windows(const shelf::Item& item) {
  return by_condition(item, "peak_luminance", [](const nlohmann::json& c) -> std::optional<double> {
    const double percent = number_at(c, "window_percent");
    return percent > 0 ? std::optional(percent) : std::nullopt;
  });
}

/// Angles to the left are negative; those above and below are left out.
std::optional<double> side_angle(const nlohmann::json& c) {
  const auto direction = c.value("direction", "");
  const double angle = number_at(c, "angle_deg");
  if (direction == "left") return -angle;
  return direction == "right" ? std::optional(angle) : std::nullopt;
}
Points off_axis_light(const shelf::Item& item) {
  return by_condition(item, "off_axis_luminance", side_angle);
}
Points off_axis_colour(const shelf::Item& item) {
  return by_condition(item, "off_axis_delta_uv", side_angle);
}

/// Black beside the window that most displays are asked about: the smallest one of this display.
Points halo(const shelf::Item& item) {
  double window = INFINITY;
  for (const auto& f : item.findings)
    if (f.quantity == "halo_luminance") window = std::min(window, number_at(f.conditions, "window_percent"));
  return by_condition(item, "halo_luminance", [&](const nlohmann::json& c) -> std::optional<double> {
    if (number_at(c, "window_percent") != window) return std::nullopt;
    return number_at(c, "distance_percent");
  });
}

/// The steps of the greyscale, through `point`.
template <class Point>
Points grey_steps(const shelf::Item& item, Point point) {
  Points out;
  const auto* f = first_finding(item, "eotf_mean_delta_e_itp");
  if (f != nullptr && f->series.is_array())
    for (const auto& row : f->series) {
      CurvePoint p = point(row);
      p.x = number_at(row, "signal");
      p.hollow = row.value("above_clip", false);
      out.push_back(p);
    }
  return sorted(std::move(out));
}

Points eotf_deviation(const shelf::Item& item) {
  return grey_steps(item, [](const nlohmann::json& row) {
    constexpr double kLeastTarget = 0.01;  // below it a percentage says little
    const double target = number_at(row, "target_cdm2");
    const auto percent = [&](const char* key) {
      return target >= kLeastTarget ? 100 * (number_at(row, key) / target - 1) : std::nan("");
    };
    return CurvePoint{0, percent("value_cdm2"), percent("lower95_cdm2"), percent("upper95_cdm2")};
  });
}
Points grey_difference(const shelf::Item& item) {
  return grey_steps(item, [](const nlohmann::json& row) {
    return CurvePoint{0, number_at(row, "delta_e_itp"), number_at(row, "delta_e_itp_lower95"),
                      number_at(row, "delta_e_itp_upper95")};
  });
}
Points grey_colour(const shelf::Item& item) {
  return grey_steps(item, [](const nlohmann::json& row) {
    return CurvePoint{0, number_at(row, "delta_uv"), number_at(row, "delta_uv_lower95"),
                      number_at(row, "delta_uv_upper95")};
  });
}

/// Luminance while warming up, relative to the last reading.
Points warming(const shelf::Item& item) {
  Points out;
  const auto* f = first_finding(item, "drift");
  if (f == nullptr || !f->series.is_array() || f->series.empty()) return out;
  const double end = number_at(f->series.back(), "cdm2");
  for (const auto& row : f->series) {
    const double y = 100 * (number_at(row, "cdm2") / end - 1);
    out.push_back({number_at(row, "time_s") / 60, y, y, y});
  }
  return sorted(std::move(out));
}

const std::array kKinds{
    CurveKind{.id = "window",
              .topic = "light",
              .title = "Luminance over window area",
              .caption = "White windows of growing area, 95 % intervals.",
              .x_title = "Window area, %",
              .y_title = "Luminance, cd/m\u00b2",
              .x_log = true,
              .points = windows,
              .quantity = "peak_luminance"},
    CurveKind{.id = "warming",
              .topic = "time",
              .title = "Warming up",
              .caption = "Luminance of a steady grey since switching on, against the last reading.",
              .x_title = "Time, min",
              .y_title = "Change, %",
              .points = warming,
              .quantity = "drift"},
    CurveKind{.id = "eotf",
              .topic = "tone",
              .title = "Deviation from the EOTF",
              .caption = "Luminance against the target's, from 0.01 cd/m\u00b2 on. Rings are above the clip; triangles "
                         "lie beyond the axis.",
              .x_title = "Signal",
              .y_title = "Deviation, %",
              .most = 30,
              .points = eotf_deviation,
              .quantity = "eotf_mean_delta_e_itp"},
    CurveKind{.id = "grey-itp",
              .topic = "tone",
              .title = "Greyscale, difference in ICtCp",
              .caption = "\u0394E ITP of each step of grey (ITU-R BT.2124). Rings are above the clip.",
              .x_title = "Signal",
              .y_title = "\u0394E ITP",
              .most = 20,
              .points = grey_difference,
              .quantity = "eotf_mean_delta_e_itp"},
    CurveKind{.id = "grey-uv",
              .topic = "white",
              .title = "Greyscale, colour",
              .caption = "Distance of each step of grey from the white target in CIE 1976 u\u2032, v\u2032.",
              .x_title = "Signal",
              .y_title = "\u0394u\u2032v\u2032",
              .most = 0.02,
              .points = grey_colour,
              .quantity = "greyscale_max_delta_uv"},
    CurveKind{.id = "off-axis",
              .topic = "picture",
              .title = "Luminance off axis",
              .caption = "Share of the luminance that is kept to the left (negative) and right.",
              .x_title = "Angle, \u00b0",
              .y_title = "Luminance kept, %",
              .points = off_axis_light,
              .quantity = "off_axis_luminance"},
    CurveKind{.id = "off-axis-uv",
              .topic = "picture",
              .title = "Colour off axis",
              .caption = "Shift of white to the left (negative) and right in CIE 1976 u\u2032, v\u2032.",
              .x_title = "Angle, \u00b0",
              .y_title = "\u0394u\u2032v\u2032",
              .points = off_axis_colour,
              .quantity = "off_axis_delta_uv"},
    CurveKind{.id = "halo",
              .topic = "picture",
              .title = "Black beside a bright window",
              .caption = "Luminance of black at a distance from the smallest window that was read.",
              .x_title = "Distance, % of the width",
              .y_title = "Luminance, cd/m\u00b2",
              .y_log = true,
              .points = halo,
              .quantity = "halo_luminance"}};

}  // namespace

std::span<const CurveKind> curve_kinds() {
  return kKinds;
}

}  // namespace provenit::publish
