// Gamut triangles in CIE 1976 u', v'.
#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <optional>

#include "axes.h"
#include "chart.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/primaries.h"
#include "words.h"

namespace provenit::publish {
namespace {

using Triangle = std::array<colour::UvPrime<>, 3>;

struct Gamut {
  std::string name;
  Triangle triangle;
  bool shown = false;
  std::vector<const store::FindingRecord*> coverage;  ///< in u', v'
};

Triangle triangle_of(const colour::Primaries<>& p) {
  return {colour::uv_prime_from_xy(p.red), colour::uv_prime_from_xy(p.green), colour::uv_prime_from_xy(p.blue)};
}

std::optional<Triangle> measured_triangle(const store::FindingRecord& f) {
  constexpr std::array names{"red", "green", "blue"};
  Triangle out;
  std::size_t found = 0;
  if (!f.series.is_array()) return std::nullopt;
  for (const auto& row : f.series)
    for (std::size_t k = 0; k < names.size(); ++k)
      if (row.value("primary", "") == names[k] && row.contains("u_prime") && row.contains("v_prime")) {
        out[k] = {row["u_prime"].get<double>(), row["v_prime"].get<double>()};
        ++found;
      }
  return found == names.size() ? std::optional(out) : std::nullopt;
}

std::vector<Gamut> gamuts_of(const Subjects& subjects) {
  std::vector<Gamut> out;
  for (std::size_t i = 0; i < subjects.items.size(); ++i) {
    Gamut gamut{.name = subjects.items[i].name};
    bool measured = false;
    for (const auto& f : subjects.items[i].findings) {
      if (f.quantity != "gamut_coverage") continue;
      if (const auto t = measured_triangle(f); t && !measured) gamut.triangle = *t, measured = true;
      if (f.conditions.value("plane", "") == "uv") gamut.coverage.push_back(&f);
    }
    gamut.shown = std::ranges::find(subjects.shown, i) != subjects.shown.end();
    if (measured) out.push_back(std::move(gamut));
  }
  return out;
}

const std::vector<colour::UvPrime<>>& spectral_locus() {
  static const auto locus = [] {
    constexpr int kFirst = 400, kLast = 700, kStep = 4;
    std::vector<colour::UvPrime<>> out;
    for (int nm = kFirst; nm <= kLast; nm += kStep) {
      const auto m = colour::matching_functions(colour::Observer::cie1931_2deg, {static_cast<double>(nm)});
      const double sum = m.x + m.y + m.z;
      out.push_back(colour::uv_prime_from_xy(colour::Xy<>{m.x / sum, m.y / sum}));
    }
    return out;
  }();
  return locus;
}

constexpr double kUHigh = 0.63, kVHigh = 0.6;  // what the drawing spans, from 0

void draw_triangle(Drawing& d, std::string_view style, const Triangle& t, const Scale& x, const Scale& y) {
  std::vector<Place> places;
  for (const auto& p : t) places.push_back({x(p.u), y(p.v)});
  d.path(style, places, true);
}

void draw_gamut(Drawing& d, const std::vector<Gamut>& gamuts, std::size_t active, const Box& box, bool labelled) {
  // One unit of u' is as long as one of v'.
  const double unit = std::min(box.width() / kUHigh, box.height() / kVHigh);
  const double left = box.left + (labelled ? 0 : (box.width() - unit * kUHigh) / 2);
  const Box plot{left, box.bottom - unit * kVHigh, left + unit * kUHigh, box.bottom};
  const Scale x{0, kUHigh, plot.left, plot.right}, y{0, kVHigh, plot.bottom, plot.top};
  if (labelled) {
    draw_left_axis(d, plot, y, even_ticks(0, kVHigh, 6), true);
    draw_bottom_axis(d, plot, x, even_ticks(0, kUHigh, 6), true);
  }
  std::vector<Place> locus;
  for (const auto& p : spectral_locus()) locus.push_back({x(p.u), y(p.v)});
  d.path("rim", locus, true);
  draw_triangle(d, "aim", triangle_of(colour::bt2020_primaries), x, y);
  draw_triangle(d, "aim2", triangle_of(colour::p3_d65_primaries), x, y);
  for (std::size_t i = 0; i < gamuts.size(); ++i)
    if (i != active) draw_triangle(d, "other", gamuts[i].triangle, x, y);
  draw_triangle(d, "edge", gamuts[active].triangle, x, y);
  constexpr std::array styles{"red", "green", "blue"};
  for (std::size_t k = 0; k < styles.size(); ++k) {
    const Place at{x(gamuts[active].triangle[k].u), y(gamuts[active].triangle[k].v)};
    d.dot(styles[k], at, 0.36);
    d.spot(at);
  }
  const auto white = colour::uv_prime_from_xy(colour::d65_video);
  const double arm = 0.35 * d.text();
  d.line("base", {x(white.u) - arm, y(white.v)}, {x(white.u) + arm, y(white.v)});
  d.line("base", {x(white.u), y(white.v) - arm}, {x(white.u), y(white.v) + arm});
}

void draw_gamuts(Drawing& d, const std::vector<Gamut>& gamuts) {
  std::vector<std::size_t> shown;
  for (std::size_t i = 0; i < gamuts.size(); ++i)
    if (gamuts[i].shown) shown.push_back(i);
  const double text = d.text();
  if (shown.size() == 1) {
    const Box inside{3.2 * text, 1.6 * text, d.width() - 0.5 * text, d.height() - 3.4 * text};
    d.say("tick", {0, 0.9 * text}, Anchor::start, "v\u2032");
    draw_gamut(d, gamuts, shown.front(), inside, true);
    const double end = 3.2 * text + std::min(inside.width() / kUHigh, inside.height() / kVHigh) * kUHigh;
    d.say("tick", {end, d.height() - 0.4 * text}, Anchor::end, "u\u2032");
    // Beside the triangle where there is room: what it covers.
    double y = 3 * text;
    for (const auto* f : gamuts[shown.front()].coverage) {
      const auto words = figure_words(*f);
      const auto line = condition_words({{"reference", f->conditions.value("reference", "")}}) + ": " + words.whole();
      if (end + 1.5 * text + d.width_of(line) > d.width()) break;
      d.say("plain", {end + 1.5 * text, y += 1.6 * text}, Anchor::start, line);
    }
    return;
  }
  const std::size_t columns = d.width() < 34 * text ? 2 : 3;
  const auto boxes = panels(d.whole(), shown.size(), 1.2, 1.4 * text, 1.2 * text, columns);
  for (std::size_t k = 0; k < boxes.size(); ++k) {
    auto box = boxes[k];
    box.top += 1.6 * text;
    d.say("name", {box.left, box.top - 0.5 * text}, Anchor::start, gamuts[shown[k]].name);
    draw_gamut(d, gamuts, shown[k], box, false);
  }
}

}  // namespace

Chart gamut_chart(const Subjects& subjects) {
  const auto gamuts = std::make_shared<const std::vector<Gamut>>(gamuts_of(subjects));
  const auto shown = static_cast<std::size_t>(std::ranges::count_if(*gamuts, &Gamut::shown));
  Chart chart{.id = "gamut",
              .title = "Gamut",
              .caption =
                  "Primaries in CIE 1976 u\u2032, v\u2032, with the spectral locus, BT.2020 (dashes), P3-D65 (dots) "
                  "and D65 (cross)."};
  if (shown == 0) return chart;
  if (shown > 1)
    chart.caption += " In each panel one display; the others in grey.";
  else if (gamuts->size() > 1)
    chart.caption += " In grey: the other displays.";
  constexpr std::array names{"red", "green", "blue"};
  chart.numbers.columns = {"Display", "Primary", "u\u2032", "v\u2032"};
  for (const auto& g : *gamuts)
    if (g.shown)
      for (std::size_t k = 0; k < names.size(); ++k)
        chart.numbers.rows.push_back(
            {g.name, names[k], number_text(g.triangle[k].u, 4), number_text(g.triangle[k].v, 4)});
  chart.rise = shown > 1 ? 0.36 * rows_of_panels(shown, 3) : 0.55;
  chart.narrow_rise = shown > 1 ? 0.56 * rows_of_panels(shown, 2) : 1.02;
  chart.draw = [gamuts](Drawing& d) { draw_gamuts(d, *gamuts); };
  return chart;
}

}  // namespace provenit::publish
