// Colour bars with the levels of BT.2111 and a near-black pattern with the codes of BT.814.
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "pictures/painter.h"
#include "provenit/colour/colour_bars.h"
#include "provenit/colour/quantise.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {
namespace {

using colour::Bar;

struct NamedBar {
  Bar bar;
  const char* name;
  std::array<int, 3> on;
};
constexpr NamedBar kBars[] = {{Bar::yellow, "yellow", {1, 1, 0}}, {Bar::cyan, "cyan", {0, 1, 1}},
                              {Bar::green, "green", {0, 1, 0}},   {Bar::magenta, "magenta", {1, 0, 1}},
                              {Bar::red, "red", {1, 0, 0}},       {Bar::blue, "blue", {0, 0, 1}}};

int code_of(const Setting& s, double signal) {
  return grey_code(s.encoding, colour::Signal<>{.value = signal}).code[0];
}

void draw_bars(Sheet& sheet, const Setting& s, const PixelRectangle& area, double level, const char* suffix) {
  const int black = s.black().code[0], high = code_of(s, level);
  sheet.place(fmt::format("white {}", suffix), cell(area, 7, 1, 0, 0), {.code = {high, high, high}});
  for (int k = 0; k < 6; ++k) {
    CodeRgb code;
    for (std::size_t c = 0; c < 3; ++c) code.code[c] = kBars[k].on[c] != 0 ? high : black;
    sheet.place(fmt::format("{} {}", kBars[k].name, suffix), cell(area, 7, 1, k + 1, 0), code);
  }
}

void draw_bt709_bars(Sheet& sheet, const Setting& s, const PixelRectangle& area, double level) {
  const auto system =
      s.encoding.transfer == Transfer::pq ? colour::BarSystem::pq_display : colour::BarSystem::hlg_scene;
  const int forty = code_of(s, 0.4);
  sheet.place("grey 40 %", cell(area, 7, 1, 0, 0), {.code = {forty, forty, forty}});
  for (int k = 0; k < 6; ++k) {
    const auto codes = colour::bt709_bar_codes(kBars[k].bar, system, level, s.encoding.bits, s.encoding.range);
    sheet.place(fmt::format("BT.709 {}", kBars[k].name), cell(area, 7, 1, k + 1, 0),
                {.code = {codes[0].value, codes[1].value, codes[2].value}});
  }
}

void draw_greys(Sheet& sheet, const Setting& s, const PixelRectangle& area) {
  std::vector<int> percents;
  const bool narrow = s.encoding.range == Range::narrow;
  if (narrow) percents.push_back(-7);
  for (int p = 0; p <= 100; p += 10) percents.push_back(p);
  if (narrow) percents.push_back(109);
  const int n = static_cast<int>(percents.size());
  for (int k = 0; k < n; ++k) {
    const int percent = percents[static_cast<std::size_t>(k)], code = code_of(s, percent / 100.0);
    sheet.place(fmt::format("grey step {} %", percent), cell(area, n, 1, k, 0), {.code = {code, code, code}});
  }
}

Painter colour_bars(Setting& s) {
  if (s.encoding.transfer == Transfer::bt1886 || s.encoding.container != Container::bt2020) {
    s.refuse("these bars are for PQ and HLG in BT.2020", "Take such an encoding.", "encoding");
    return {};
  }
  const bool pq = s.encoding.transfer == Transfer::pq;
  const double level = pq ? 0.58 : 0.75;
  Sheet sheet(s.size, s.black());
  const auto area = whole(s.size);
  const auto band = [&](int from, int to) {
    const int top = cut(s.size.height, 12, from);
    return PixelRectangle{.left = 0, .top = top, .width = area.width, .height = cut(s.size.height, 12, to) - top};
  };
  draw_bars(sheet, s, band(0, 2), 1, "100 %");
  draw_bars(sheet, s, band(2, 6), level, pq ? "58 %" : "75 %");
  draw_bt709_bars(sheet, s, band(6, 9), level);
  draw_greys(sheet, s, band(9, 11));
  const auto ramp = band(11, 12);
  const int black = s.black().code[0], span = peak_code(s.encoding).code[0] - black;
  sheet.pattern(ramp, [=](int x, int) {
    const auto steps = static_cast<std::int64_t>(ramp.width - 1);
    const int code = black + static_cast<int>((2 * static_cast<std::int64_t>(x) * span + steps) / (2 * steps));
    return CodeRgb{.code = {code, code, code}};
  });
  return Painter(std::move(sheet));
}

/// A code that BT.814-4 gives for 10 bits narrow, at the encoding's bits and range.
CodeRgb lift_code(const Setting& s, int narrow10) {
  const double signal = colour::dequantise({.value = narrow10, .bits = 10, .range = Range::narrow}).value;
  return grey_code(s.encoding, colour::Signal<>{.value = signal});
}

Painter near_black_lift(Setting& s) {
  const auto bright = lift_code(s, 399), lighter = lift_code(s, 80), darker = lift_code(s, 48), black = s.black();
  Sheet sheet(s.size, black);
  const auto [w, h] = s.size;
  const auto patch = centred(whole(s.size), w * 0.2, h * 0.2);
  sheet.place("higher level", patch, bright);
  constexpr int kBands = 9;
  const auto column = [&](int fifth) {
    const int left = cut(w, 10, 2 * fifth + 1) - cut(w, 10, 1) / 2;
    return PixelRectangle{
        .left = left, .top = cut(h, 5, 1), .width = cut(w, 10, 1), .height = cut(h, 5, 4) - cut(h, 5, 1)};
  };
  // Lighter bars on both outer columns, darker ones on both inner columns; full range has no code below black.
  for (const int fifth : {0, 1, 3, 4}) {
    const bool outer = fifth == 0 || fifth == 4;
    if (!outer && darker == black) continue;
    for (int k = 0; k < kBands; k += 2)
      sheet.place(fmt::format("{}, column {} bar {}", outer ? "lighter" : "darker", fifth + 1, k / 2 + 1),
                  cell(column(fifth), 1, kBands, 0, k), outer ? lighter : darker);
  }
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> line_up_kinds() {
  return {
      {{.key = "colour_bars",
        .title = "Colour bars for HDR",
        .purpose = "Bars at 100 %, at 75 % (HLG) or 58 % (PQ), BT.709 colours inside the container, greys from -7 % "
                   "(narrow) to 109 % and a ramp: whether range, matrix and container arrive unchanged. On a good "
                   "chain every place reads its code.",
        .source = "levels by Rec. ITU-R BT.2111; layout and the choice of greys are ours: its fractions were not at "
                  "hand, so do not line up against its drawing",
        .caution = kBrightCaution,
        .parameters = {}},
       colour_bars},
      {{.key = "near_black_lift",
        .title = "Near-black lift",
        .purpose = "Bars a little above and a little below black on black beside a patch of a higher level: black is "
                   "set right when the lighter bars (outer columns) are just seen and the darker ones (inner columns) "
                   "are not. Full range has no code below black: the darker bars are left out.",
        .source = "codes by Rec. ITU-R BT.814-4 table 3 (HDR: 399, 64, 80, 48 of 10 bits), other bits by the same "
                  "signal; for BT.1886 the same codes are taken, its own row was not at hand; geometry: own design",
        .parameters = {}},
       near_black_lift},
  };
}

}  // namespace provenit::signal::pictures
