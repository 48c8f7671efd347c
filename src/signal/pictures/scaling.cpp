// Zone plate, a set of fine details for scalers, and the mean of lines against plain grey.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

#include "pictures/painter.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {
namespace {

Painter zone_plate(Setting& s) {
  const auto [w, h] = s.size;
  const int top = s.grey("level_cdm2").code[0], black = s.black().code[0];
  const int diameter = centred_length(s.number("diameter_percent") / 100 * std::min(w, h), h);
  const auto area =
      PixelRectangle{.left = (w - diameter) / 2, .top = (h - diameter) / 2, .width = diameter, .height = diameter};
  // Phase = pi q / (4 D') with q = (2 r)^2, all in whole numbers: the frequency d phase / dr reaches the wanted share
  // of half a cycle per pixel at the rim. One turn is 8 D'.
  const auto turn =
      static_cast<std::int64_t>(std::llround(8.0 * diameter / (s.number("highest_frequency_percent") / 100)));
  const double half = s.number("contrast_percent") / 200;
  const auto code_of = [=](double wave) {
    const int code = black + static_cast<int>(std::lround((top - black) * (0.5 + half * wave)));
    return CodeRgb{.code = {code, code, code}};
  };
  const auto ground = code_of(0);
  Sheet sheet(s.size, ground);
  sheet.pattern(area, [=](int x, int y) {
    const std::int64_t dx = 2 * (x - area.left) + 1 - diameter, dy = 2 * (y - area.top) + 1 - diameter;
    const std::int64_t q = dx * dx + dy * dy, rim = static_cast<std::int64_t>(diameter) * diameter;
    if (q > rim) return ground;
    return code_of(std::cos(2 * std::numbers::pi * static_cast<double>(q % turn) / static_cast<double>(turn)));
  });
  const int side = std::max(2, diameter / 10);
  sheet.name("ground, top left", {.left = area.left, .top = area.top, .width = side, .height = side}, ground);
  return Painter(std::move(sheet));
}

/// White lines of `on` pixels every `period`.
void lines(Sheet& sheet, const PixelRectangle& area, int on, int period, bool vertical, const CodeRgb& code) {
  sheet.shape(area, code, [=](int x, int y) { return (vertical ? x - area.left : y - area.top) % period < on; });
}

/// An odd number of stripes, white first and last, that run together from a period of 12 pixels to one of 2.
void wedge(Sheet& sheet, const PixelRectangle& area, bool vertical, const CodeRgb& code) {
  const std::int64_t length = vertical ? area.height : area.width, breadth = vertical ? area.width : area.height;
  const std::int64_t stripes = std::max<std::int64_t>(3, breadth / 12 * 2 - 1);
  sheet.shape(area, code, [=](int x, int y) {
    const std::int64_t along = vertical ? y - area.top : x - area.left;
    // All in half pixels times (length - 1): place from the middle, and width of all stripes here.
    const std::int64_t across = (2 * (vertical ? x - area.left : y - area.top) + 1 - breadth) * (length - 1);
    const std::int64_t wide = stripes * (12 * (length - 1 - along) + 2 * along);
    const std::int64_t at = 2 * across + wide;
    return at >= 0 && at < 2 * wide && at * stripes / (2 * wide) % 2 == 0;
  });
}

void edges(Sheet& sheet, const PixelRectangle& area, const CodeRgb& white, const CodeRgb& grey, const CodeRgb& black) {
  const CodeRgb codes[2][2] = {{white, black}, {black, grey}};
  for (int row = 0; row < 2; ++row)
    for (int column = 0; column < 2; ++column)
      sheet.place(fmt::format("edge field, column {} row {}", column + 1, row + 1), cell(area, 2, 2, column, row),
                  codes[row][column]);
}

/// An edge that leans one pixel in ten, upright (bright on the left) or lying (bright above), and the plain parts on
/// either side of it. The darker level is far enough above black for what a scaler adds below it.
void slant(Sheet& sheet, const PixelRectangle& area, bool upright, const CodeRgb& bright, const CodeRgb& dark) {
  sheet.fill(area, dark);
  sheet.shape(area, bright, [=](int x, int y) {
    const int u = 2 * (x - area.left) + 1 - area.width, v = 2 * (y - area.top) + 1 - area.height;
    return upright ? 10 * u < v : 10 * v < u;
  });
  const int length = upright ? area.width : area.height, side = upright ? area.height : area.width;
  const int plain = (length - side / 10) / 2 - 1;
  const std::string name = upright ? "upright leaning edge, " : "lying leaning edge, ";
  auto part = area;
  (upright ? part.width : part.height) = plain;
  sheet.name(name + "bright", part, bright);
  (upright ? part.left : part.top) += length - plain;
  sheet.name(name + "dark", part, dark);
}

/// A circle on the display: `height` pixels high, as many wide as its pixels' shape asks for.
PixelRectangle circle(const Setting& s, const PixelRectangle& area, int height) {
  const double aspect = s.number("display_aspect");
  const double pixel_aspect = aspect == 0 ? 1 : aspect * s.size.height / s.size.width;
  return centred(area, height / pixel_aspect, height);
}

Painter scaling_set(Setting& s) {
  const auto white = s.grey("level_cdm2"), black = s.black();
  const auto grey = s.grey(s.number("level_cdm2") / 4, "level_cdm2");
  Sheet sheet(s.size, black);
  constexpr int kColumns = 4, kRows = 2;
  const auto panel = [&](int column, int row) {
    const auto box = cell(whole(s.size), kColumns, kRows, column, row);
    return inset(box, std::min(box.width, box.height) / 16);
  };
  const auto half = [&](const PixelRectangle& area, int k) { return inset(cell(area, 1, 2, 0, k), 2); };
  for (int k = 0; k < 2; ++k) {
    lines(sheet, half(panel(0, 0), k), k + 1, 2 * (k + 1), true, white);
    lines(sheet, half(panel(1, 0), k), k + 1, 2 * (k + 1), false, white);
    lines(sheet, half(panel(2, 0), k), 1, 12, k == 0, white);
  }
  const auto rings = panel(3, 0);
  for (int k = 8; k >= 1; --k)
    sheet.ring(circle(s, rings, std::min(rings.width * 3 / 4, rings.height) * k / 8), k % 2 == 0 ? 1 : 2, white);
  wedge(sheet, panel(0, 1), true, white);
  wedge(sheet, panel(1, 1), false, white);
  edges(sheet, panel(2, 1), white, grey, black);
  const auto dark = s.grey(s.number("level_cdm2") / 16, "level_cdm2");
  slant(sheet, half(panel(3, 1), 0), true, white, dark);
  slant(sheet, half(panel(3, 1), 1), false, white, dark);
  return Painter(std::move(sheet));
}

constexpr const char* kPatternCaution =
    "Fine regular patterns can trouble photosensitive people (Rec. ITU-R BT.1702): announce them, do not look long.";

enum class Mesh { upright, lying, checks };

Painter line_mean(Setting& s) {
  const auto high = s.grey("level_cdm2"), low = s.black();
  const double mean = (s.light.cdm2(high) + s.light.cdm2(low)) / 2;
  const int steps = s.whole("steps");
  const struct {
    Mesh mesh;
    const char* name;
  } meshes[] = {{Mesh::upright, "upright lines"}, {Mesh::lying, "lying lines"}, {Mesh::checks, "single pixels"}};
  Sheet sheet(s.size, s.grey(mean, "level_cdm2"));
  for (int row = 0; row < 3; ++row) {
    auto area = cell(whole(s.size), 1, 3, 0, row);
    area = inset(area, area.height / 12);
    const auto mesh = meshes[row].mesh;
    sheet.pattern(area, [=](int x, int y) {
      const int at = mesh == Mesh::upright ? x : mesh == Mesh::lying ? y : x + y;
      return at % 2 == 0 ? high : low;
    });
    for (int k = 0; k < steps; ++k) {
      const double off = s.number("range_percent") * (2.0 * k / (steps - 1) - 1);
      auto box = cell(area, steps, 1, k, 0);
      box = centred(box, box.width * 0.5, box.height * 0.4);
      sheet.place(fmt::format("{}, mean {:+.4g} %", meshes[row].name, off), box,
                  s.grey(mean * (1 + off / 100), "level_cdm2"));
    }
  }
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> scaling_kinds() {
  return {
      {{.key = "zone_plate",
        .title = "Circular zone plate",
        .purpose = "Rings that grow finer from the middle to the rim, where they reach a share of half a cycle per "
                   "pixel; a wave of the signal, its phase exact. Scaling, filters and lost pixels show as rings "
                   "that are not centred. A good display shown pixel for pixel has one set of rings, down to the rim.",
        .source = "common practice, no source; bounds and phase: own design",
        .caution = kPatternCaution,
        .parameters = {number("diameter_percent", 100, 10, 100, "of the raster's shorter side"),
                       number("highest_frequency_percent", 100, 10, 100, "at the rim, of half a cycle per pixel"),
                       number("contrast_percent", 100, 1, 100, "of the signal from black to the level"),
                       white_level("level_cdm2", "level of the highest code", 0.5)}},
       zone_plate},
      {{.key = "scaling_set",
        .title = "Details for scalers",
        .purpose = "Lines of one and two pixels, single lines, rings, wedges from 12 pixels to 2, edges, leaning "
                   "edges. Made for SD rasters, whose pixels are shown larger: ringing, softness, jagged slopes. A "
                   "good scaler keeps lines even, edges without second edges, and rings round.",
        .source = kOwnDesign,
        .caution = kPatternCaution,
        .parameters = {number("display_aspect", 0, 0, 3, "width / height of the shown picture; 0: square pixels"),
                       white_level("level_cdm2", "level of white", 0.5)}},
       scaling_set},
      {{.key = "line_mean",
        .title = "Mean of lines against grey",
        .purpose =
            "Lines and checks of single pixels, black and a level, around plain greys whose light is their mean and "
            "some more or less: mean = (L(level) + L(black)) / 2 by the encoding's EOTF, and the grey's code is that "
            "EOTF's inverse of it. From afar the grey of +0 % matches its lines on a display that follows its EOTF "
            "and shows each pixel by itself; scaling of the signal makes the lines darker. Upright lines also darken "
            "where the panel or link is too slow.",
        .source = kOwnDesign,
        .caution = kPatternCaution,
        .parameters = {white_level("level_cdm2", "level of the bright lines", 0.5),
                       number("range_percent", 45, 5, 90, "greys from mean - this to mean + this"),
                       count("steps", 7, 3, 15, "number of greys")}},
       line_mean},
  };
}

}  // namespace provenit::signal::pictures
