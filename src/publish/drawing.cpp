#include "drawing.h"

#include <fmt/format.h>

#include <cmath>

#include "words.h"

namespace provenit::publish {
namespace {

const char* name_of(Anchor anchor) {
  switch (anchor) {
    case Anchor::start:
      return "start";
    case Anchor::middle:
      return "middle";
    case Anchor::end:
      break;
  }
  return "end";
}

void append_places(std::string& out, std::span<const Place> places) {
  for (const auto& p : places) out += coordinate(p.x) + ' ' + coordinate(p.y) + ' ';
  if (!places.empty()) out.pop_back();
}

}  // namespace

const Palette& page_palette() {
  static constexpr Palette palette{"var(--panel)",  "var(--ink)",  "var(--ink-2)", "var(--ink-3)", "var(--rule)",
                                   "var(--accent)", "var(--band)", "var(--red)",   "var(--green)", "var(--blue)"};
  return palette;
}
const Palette& light_palette() {
  static constexpr Palette palette{"#ffffff", "#161616", "#4c4c4c", "#6a6a6a", "#d2d2d2",
                                   "#8a4a12", "#ead9cb", "#b3372f", "#2f7d3a", "#2f52b3"};
  return palette;
}
const Palette& dark_palette() {
  static constexpr Palette palette{"#141414", "#ededed", "#b6b6b6", "#959595", "#3d3d3d",
                                   "#e2a468", "#463728", "#d8655c", "#5fae69", "#6d8ee0"};
  return palette;
}

std::string drawing_css(const Palette& p, std::string_view scope) {
  std::string out;
  const auto rule = [&](std::string_view name, const std::string& looks) {
    out += fmt::format("{}.{}{{{}}}", scope, name, looks);
  };
  const auto stroke = [](std::string_view colour, double width, std::string_view dashes = {}) {
    return fmt::format("fill:none;stroke:{};stroke-width:{}{}", colour, width,
                       dashes.empty() ? std::string{} : fmt::format(";stroke-dasharray:{}", dashes));
  };
  rule("grid", stroke(p.rule, 1));
  rule("base", stroke(p.ink3, 1));
  rule("other", stroke(p.ink3, 1) + ";opacity:.45");
  rule("own", stroke(p.accent, 1.75) + ";stroke-linejoin:round");
  rule("span", stroke(p.accent, 1.75));
  rule("aim", stroke(p.ink2, 1.25, "6 4"));
  rule("aim2", stroke(p.ink2, 1.25, "1.5 3.5"));
  rule("edge", stroke(p.ink, 2) + ";stroke-linejoin:round");
  rule("rim", stroke(p.ink3, 1.25));
  rule("fill", fmt::format("fill:{}", p.band));
  rule("dot", fmt::format("fill:{};stroke:{};stroke-width:1", p.accent, p.ground));
  rule("ring", fmt::format("fill:{};stroke:{};stroke-width:1.5", p.ground, p.accent));
  rule("red", fmt::format("fill:{};stroke:{}", p.red, p.ground));
  rule("green", fmt::format("fill:{};stroke:{}", p.green, p.ground));
  rule("blue", fmt::format("fill:{};stroke:{}", p.blue, p.ground));
  rule("tick", fmt::format("fill:{}", p.ink2));
  rule("name", fmt::format("fill:{};font-weight:600", p.ink));
  rule("plain", fmt::format("fill:{}", p.ink));
  rule("note",
       fmt::format("fill:{};stroke:{};stroke-width:3.5;stroke-linejoin:round;paint-order:stroke", p.ink2, p.ground));
  return out;
}

std::string coordinate(double value) {
  const double tenths = std::round(value * 10);
  if (tenths == 0) return "0";
  return std::fmod(tenths, 10) == 0 ? fmt::format("{:.0f}", tenths / 10) : fmt::format("{:.1f}", tenths / 10);
}

void Drawing::line(std::string_view style, Place a, Place b) {
  elements_ += fmt::format(R"(<path class="{}" d="M{} {}L{} {}"/>)", style, coordinate(a.x), coordinate(a.y),
                           coordinate(b.x), coordinate(b.y));
}

void Drawing::path(std::string_view style, std::span<const Place> places, bool closed) {
  if (places.size() < 2) return;
  elements_ += fmt::format(R"(<path class="{}" d="M)", style);
  append_places(elements_, places);
  elements_ += closed ? R"(Z"/>)" : R"("/>)";
}

void Drawing::area(std::string_view style, std::span<const Place> upper, std::span<const Place> lower) {
  std::vector<Place> round(upper.begin(), upper.end());
  round.insert(round.end(), lower.rbegin(), lower.rend());
  path(style, round, true);
}

void Drawing::dot(std::string_view style, Place at, double radius) {
  elements_ += fmt::format(R"(<circle class="{}" cx="{}" cy="{}" r="{}"/>)", style, coordinate(at.x), coordinate(at.y),
                           coordinate(radius * text_));
}

void Drawing::beyond(Place at, bool up) {
  const double size = 0.36 * text_, tip = up ? -1.4 * size : 1.4 * size;
  const std::vector<Place> mark{{at.x - size, at.y}, {at.x + size, at.y}, {at.x, at.y + tip}};
  path("ring", mark, true);
}

void Drawing::say(std::string_view style, Place at, Anchor anchor, std::string_view text, double scale) {
  elements_ +=
      fmt::format(R"(<text class="{}" x="{}" y="{}" text-anchor="{}" font-size="{}">{}</text>)", style,
                  coordinate(at.x), coordinate(at.y), name_of(anchor), coordinate(text_ * scale), escaped(text));
}

std::string Drawing::spots() const {
  std::string out;
  for (const auto& s : spots_) out += coordinate(s.x) + ',' + coordinate(s.y) + ' ';
  if (!out.empty()) out.pop_back();
  return out;
}

double Drawing::width_of(std::string_view text, double scale) const {
  std::size_t letters = 0;
  for (const char c : text) letters += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1 : 0;  // of UTF-8
  constexpr double kLetter = 0.56;  // of the size, on average over digits and lower case
  return kLetter * scale * text_ * static_cast<double>(letters);
}

}  // namespace provenit::publish
