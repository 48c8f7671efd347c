#include "curves.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "axes.h"
#include "provenit/shelf/compare.h"
#include "words.h"

namespace provenit::publish {
namespace {

struct Course {
  std::string name;
  std::vector<CurvePoint> points;
  bool shown = false, comparable = true;
};

/// Both axes over all courses.
struct Extent {
  double x_low = 0, x_high = 1, y_low = 0, y_high = 1;
  std::vector<Tick> x_ticks, y_ticks;
};

std::vector<Course> courses_of(const CurveKind& kind, const Subjects& subjects) {
  std::vector<Course> out;
  const shelf::Item* first = nullptr;
  for (std::size_t i = 0; i < subjects.items.size(); ++i) {
    const auto& item = subjects.items[i];
    Course course{.name = item.name, .points = kind.points(item)};
    if (course.points.size() < 2) continue;
    course.shown = std::ranges::find(subjects.shown, i) != subjects.shown.end();
    const auto* own = first_finding(item, kind.quantity);
    if (first != nullptr && own != nullptr) {
      const auto* reference = first_finding(*first, kind.quantity);
      course.comparable = own->method == reference->method && own->method_version == reference->method_version;
    } else if (first == nullptr && own != nullptr) {
      first = &item;
    }
    out.push_back(std::move(course));
  }
  return out;
}

Extent extent_of(const CurveKind& kind, const std::vector<Course>& courses) {
  constexpr double kLeast = 1e-4;  // where a logarithmic axis ends at the latest
  Extent e{.x_low = INFINITY, .x_high = -INFINITY, .y_low = INFINITY, .y_high = -INFINITY};
  for (const auto& c : courses)
    for (const auto& p : c.points) {
      e.x_low = std::min(e.x_low, p.x), e.x_high = std::max(e.x_high, p.x);
      if (p.hollow && kind.most > 0) continue;
      e.y_low = std::min(e.y_low, kind.y_log ? std::max(p.y, kLeast) : p.lower);
      e.y_high = std::max(e.y_high, p.upper);
    }
  if (kind.most > 0) e.y_low = std::max(e.y_low, -kind.most), e.y_high = std::min(e.y_high, kind.most);
  constexpr int kTicksAcross = 5, kTicksUp = 6;
  if (kind.x_log) {
    e.x_ticks = decade_ticks(e.x_low, e.x_high);
  } else {
    if (e.x_low > 0) e.x_low = 0;
    e.x_ticks = even_ticks(e.x_low, e.x_high, kTicksAcross);
  }
  if (kind.y_log) {
    e.y_low = std::pow(10.0, std::floor(std::log10(e.y_low)));
    e.y_high = std::pow(10.0, std::ceil(std::log10(std::max(e.y_high, 10 * e.y_low))));
    e.y_ticks = decade_ticks(e.y_low, e.y_high);
    return e;
  }
  if (!(e.y_high > e.y_low)) e.y_high = e.y_low + 1;
  const bool both = e.y_low < -0.02 * e.y_high;
  if (both) {
    const double reach = round_up(std::max(-e.y_low, e.y_high));
    e.y_high = reach, e.y_low = -reach;
  } else {
    e.y_low = 0, e.y_high = round_up(e.y_high);
  }
  e.y_ticks = even_ticks(e.y_low, e.y_high, kTicksUp);
  return e;
}

void draw_course(Drawing& d, const CurveKind& kind, const Course& course, const Scale& x, const Scale& y, bool own) {
  std::vector<Place> line, upper, lower;
  for (const auto& p : course.points) {
    if (p.hollow && kind.most > 0 && !y.holds(p.y)) continue;  // far above the clip: not drawn
    line.push_back({x(p.x), y(p.y)});
    upper.push_back({x(p.x), y(p.upper)});
    lower.push_back({x(p.x), y(p.lower)});
  }
  if (own) d.area("fill", upper, lower);
  d.path(own ? "own" : "other", line);
  if (!own) return;
  for (const auto& p : course.points) {
    const Place at{x(p.x), y(p.y)};
    d.spot(at);
    if (!p.hollow && !y.holds(p.y))
      d.beyond(at, p.y > y.high);
    else if (!p.hollow)
      d.dot("dot", at, 0.24);
    else if (y.holds(p.y))
      d.dot("ring", at, 0.24);
  }
}

void draw_panel(Drawing& d, const CurveKind& kind, const std::vector<Course>& courses, std::size_t active,
                const Extent& e, const Box& plot, bool left_labels, bool bottom_labels) {
  const Scale x{e.x_low, e.x_high, plot.left + 0.8 * d.text(), plot.right - 0.8 * d.text(), kind.x_log};
  const Scale y{e.y_low, e.y_high, plot.bottom, plot.top, kind.y_log};
  draw_left_axis(d, plot, y, e.y_ticks, left_labels);
  draw_bottom_axis(d, plot, x, e.x_ticks, bottom_labels);
  if (e.y_low < 0) d.line("base", {plot.left, y(0)}, {plot.right, y(0)});
  for (std::size_t i = 0; i < courses.size(); ++i)
    if (i != active) draw_course(d, kind, courses[i], x, y, false);
  draw_course(d, kind, courses[active], x, y, true);
}

void draw_courses(Drawing& d, const CurveKind& kind, const std::vector<Course>& courses, const Extent& e) {
  std::vector<std::size_t> shown;
  for (std::size_t i = 0; i < courses.size(); ++i)
    if (courses[i].shown) shown.push_back(i);
  double widest = 0;
  for (const auto& t : e.y_ticks) widest = std::max(widest, d.width_of(t.label));
  const double text = d.text();
  const Box inside{widest + text, 1.6 * text, d.width() - 0.3 * text, d.height() - 3.4 * text};
  d.say("tick", {0, 0.9 * text}, Anchor::start, kind.y_title);
  d.say("tick", {inside.right, d.height() - 0.4 * text}, Anchor::end, kind.x_title);
  const bool many = courses.size() > 1 && shown.size() > 1;
  const std::size_t columns = d.width() < 34 * text ? 2 : 3;
  const auto boxes = many ? panels(inside, shown.size(), 1, 1.4 * text, 2.2 * text, columns) : std::vector{inside};
  for (std::size_t k = 0; k < boxes.size(); ++k) {
    Box plot = boxes[k];
    if (many) plot.top += 1.2 * text;
    draw_panel(d, kind, courses, shown[k], e, plot, !many || plot.left == inside.left,
               !many || k + columns >= boxes.size());
    if (many)
      d.say("name", {plot.left, plot.top - 0.5 * text}, Anchor::start,
            courses[shown[k]].name + (courses[shown[k]].comparable ? "" : " *"));
  }
}

Numbers numbers_of(const CurveKind& kind, const std::vector<Course>& courses) {
  Numbers out{.columns = {"Display", std::string(kind.x_title), std::string(kind.y_title), "95 % interval"},
              .rows = {}};
  for (const auto& c : courses)
    if (c.shown)
      for (const auto& p : c.points) {
        const auto words = figure_words(p.y, p.lower, p.upper, "1");
        out.rows.push_back({c.name, given_text(std::round(p.x * 1e4) / 1e4), words.value,
                            p.lower == p.upper ? "\u2013" : words.interval});
      }
  return out;
}

}  // namespace

const store::FindingRecord* first_finding(const shelf::Item& item, std::string_view quantity) {
  const auto found = std::ranges::find(item.findings, quantity, &store::FindingRecord::quantity);
  return found == item.findings.end() ? nullptr : &*found;
}

double rows_of_panels(std::size_t count, std::size_t columns) {
  const std::size_t rows = (count + columns - 1) / columns;
  return static_cast<double>(rows);
}

std::vector<Box> panels(const Box& whole, std::size_t count, double widest_rise, double gap_x, double gap_y,
                        std::size_t columns) {
  columns = std::min(columns, count);
  const double rows = rows_of_panels(count, columns);
  const double width = (whole.width() - gap_x * static_cast<double>(columns - 1)) / static_cast<double>(columns);
  const double height = std::min((whole.height() - gap_y * (rows - 1)) / rows, width * widest_rise);
  std::vector<Box> out;
  for (std::size_t k = 0; k < count; ++k) {
    const std::size_t row = k / columns, column = k % columns;
    const double left = whole.left + static_cast<double>(column) * (width + gap_x);
    const double top = whole.top + static_cast<double>(row) * (height + gap_y);
    out.push_back({left, top, left + width, top + height});
  }
  return out;
}

Chart curve_chart(const CurveKind& kind, const Subjects& subjects) {
  auto courses = std::make_shared<const std::vector<Course>>(courses_of(kind, subjects));
  const auto shown = static_cast<std::size_t>(std::ranges::count_if(*courses, &Course::shown));
  Chart chart{.id = std::string(kind.id), .title = std::string(kind.title), .caption = std::string(kind.caption)};
  if (shown == 0) return chart;
  if (std::ranges::any_of(*courses, [](const Course& c) { return c.shown && !c.comparable; }))
    chart.caption += " * by another edition or version of the method: not to be compared.";
  if (courses->size() > 1)
    chart.caption += shown > 1 ? " In each panel one display; the others in grey." : " In grey: the other displays.";
  chart.numbers = numbers_of(kind, *courses);
  chart.rise = shown > 1 ? 0.08 + 0.26 * rows_of_panels(shown, 3) : 0.48;
  chart.narrow_rise = shown > 1 ? 0.16 + 0.47 * rows_of_panels(shown, 2) : 0.85;
  const auto extent = extent_of(kind, *courses);
  chart.draw = [&kind, courses, extent](Drawing& d) { draw_courses(d, kind, *courses, extent); };
  return chart;
}

std::vector<Chart> charts_of(const Subjects& subjects) {
  return charts_of(subjects, {});
}

std::vector<Chart> charts_of(const Subjects& subjects, std::string_view topic) {
  std::vector<Chart> out;
  const auto keep = [&](Chart chart) {
    if (chart.draw) out.push_back(std::move(chart));
  };
  for (const auto& kind : curve_kinds())
    if (topic.empty() || kind.topic == topic) keep(curve_chart(kind, subjects));
  if (topic.empty() || topic == "colour") keep(gamut_chart(subjects));
  return out;
}

}  // namespace provenit::publish
