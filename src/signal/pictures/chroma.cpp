// Fine lines of two colours of one luminance: what is left of them when chroma is carried at less resolution.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "pictures/painter.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal::pictures {
namespace {

struct Pair {
  const char* name;
  const char* more;  ///< name of the colour with more of the channel
  const char* less;
  CodeRgb a, b;
};

/// Grey of the level with one channel raised and the others lowered so that the luminance stays, and the reverse: their
/// mean is the grey, in light.
Pair pair_of(Setting& s, const char* name, const char* more, const char* less, std::size_t channel) {
  const auto m = colour::rgb_to_xyz_matrix(primaries_of(s.encoding.container));
  const double level = s.number("level_cdm2"), weight = m(1, channel);
  const double other = weight / (1 - weight);
  // Nine tenths of what keeps every component above 0.
  const double amount = 0.9 * level * std::min(1.0, 1 / other);
  const auto code = [&](double sign) {
    std::array<double, 3> c;
    c.fill(level - sign * amount * other);
    c[channel] = level + sign * amount;
    return s.colour(colour::AbsoluteRgb<>{.r = c[0], .g = c[1], .b = c[2]}, "level_cdm2");
  };
  return {.name = name, .more = more, .less = less, .a = code(1), .b = code(-1)};
}

constexpr std::array<int, 3> kWidths{1, 2, 4};

/// Lines of `width` pixels, a first, both colours of the first four lines named.
void draw_lines(Sheet& sheet, const Pair& pair, const PixelRectangle& area, int width, bool vertical) {
  sheet.pattern(area, [=](int x, int y) {
    const int line = (vertical ? x - area.left : y - area.top) / width;
    return line % 2 == 0 ? pair.a : pair.b;
  });
  constexpr int kNamed = 4;
  for (int line = 0; line < kNamed; ++line) {
    auto place = area;
    (vertical ? place.left : place.top) += line * width;
    (vertical ? place.width : place.height) = width;
    sheet.name(fmt::format("{}, {} px {} line {}, {}", pair.name, width, vertical ? "vertical" : "horizontal", line + 1,
                           line % 2 == 0 ? pair.more : pair.less),
               place, line % 2 == 0 ? pair.a : pair.b);
  }
}

Painter chroma_lines(Setting& s) {
  const Pair pairs[] = {pair_of(s, "red pair", "red", "cyan", 0), pair_of(s, "green pair", "green", "magenta", 1),
                        pair_of(s, "blue pair", "blue", "yellow", 2)};
  const auto grey = s.grey("level_cdm2");
  Sheet sheet(s.size, grey);
  constexpr int kColumns = 8;  // both colours plain, three widths upright, three lying
  const auto area = inset(whole(s.size), s.size.height / 20);
  for (int row = 0; row < 3; ++row) {
    const auto& pair = pairs[row];
    const auto at = [&](int column) {
      // Fields begin at multiples of four pixels, so that a sample of chroma shared by two or four begins with them.
      auto box = cell(area, kColumns, 3, column, row);
      box = inset(box, std::min(box.width, box.height) / 12);
      const int left = (box.left + 3) / 4 * 4, top = (box.top + 3) / 4 * 4;
      return PixelRectangle{.left = left,
                            .top = top,
                            .width = (box.left + box.width - left) / 8 * 8,
                            .height = (box.top + box.height - top) / 8 * 8};
    };
    sheet.place(fmt::format("{}, plain {}", pair.name, pair.more), at(0), pair.a);
    sheet.place(fmt::format("{}, plain {}", pair.name, pair.less), at(1), pair.b);
    for (int k = 0; k < 3; ++k) {
      draw_lines(sheet, pair, at(2 + k), kWidths[static_cast<std::size_t>(k)], true);
      draw_lines(sheet, pair, at(5 + k), kWidths[static_cast<std::size_t>(k)], false);
    }
  }
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> chroma_kinds() {
  return {{{.key = "chroma_lines",
            .title = "Chroma detail",
            .purpose =
                "Lines of 1, 2 and 4 pixels, upright and lying, of colour pairs that have one luminance and whose "
                "mean is the grey around them. 4:4:4 shows all lines in the colours of the plain fields. 4:2:2 turns "
                "the upright lines of 1 pixel into one colour and keeps the lying ones; 4:2:0 turns both. Read a "
                "line's place in a captured frame: its colour is kept, halved or gone. To be looked at from near.",
            .source = kOwnDesign,
            .parameters = {white_level("level_cdm2", "luminance of every colour", 0.2)}},
           chroma_lines}};
}

}  // namespace provenit::signal::pictures
