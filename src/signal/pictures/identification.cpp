// The card that says what is sent and shows whether all of it arrives.
#include <fmt/format.h>

#include <algorithm>

#include "pictures/letters.h"
#include "pictures/painter.h"
#include "provenit/base/text.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {
namespace {

const char* words_of(Transfer transfer) {
  return transfer == Transfer::pq ? "PQ" : transfer == Transfer::hlg ? "HLG" : "BT.1886";
}
const char* words_of(Container container) {
  return container == Container::bt709 ? "BT.709" : container == Container::p3_d65 ? "P3-D65" : "BT.2020";
}

std::vector<std::string> lines_of(const Setting& s) {
  const auto& e = s.encoding;
  std::vector<std::string> out{fmt::format("{} x {}", s.size.width, s.size.height),
                               fmt::format("{}, {}", words_of(e.transfer), words_of(e.container)),
                               fmt::format("{} bits, {} range", e.bits, name_of(e.range))};
  if (e.transfer != Transfer::pq) out.push_back(fmt::format("peak {} cd/m2", exact_text(e.nominal_peak_cdm2)));
  return out;
}

/// One pixel wide, one pixel inside the border: a corner angle in each corner, a tick in the middle of each side.
void border_marks(Sheet& sheet, const CodeRgb& code) {
  const auto [w, h] = sheet.size();
  const int arm = std::min(w, h) / 12;
  const auto tick = [&](const char* name, int left, int top, int width, int height) {
    sheet.place(name, {.left = left, .top = top, .width = width, .height = height}, code);
  };
  tick("top left, lying", 1, 1, arm, 1);
  tick("top left, upright", 1, 2, 1, arm);
  tick("top right, lying", w - 1 - arm, 1, arm, 1);
  tick("top right, upright", w - 2, 2, 1, arm);
  tick("bottom left, lying", 1, h - 2, arm, 1);
  tick("bottom left, upright", 1, h - 2 - arm, 1, arm);
  tick("bottom right, lying", w - 1 - arm, h - 2, arm, 1);
  tick("bottom right, upright", w - 2, h - 2 - arm, 1, arm);
  // Middle ticks are one pixel thick on odd sides and two on even ones: the middle of the side is their middle.
  const int across = 2 - w % 2, down = 2 - h % 2;
  tick("top middle", (w - across) / 2, 1, across, arm);
  tick("bottom middle", (w - across) / 2, h - 1 - arm, across, arm);
  tick("left middle", 1, (h - down) / 2, arm, down);
  tick("right middle", w - 1 - arm, (h - down) / 2, arm, down);
}

void greys(Sheet& sheet, const Setting& s, const PixelRectangle& area) {
  constexpr int kSteps = 11;
  for (int k = 0; k < kSteps; ++k)
    sheet.place(fmt::format("grey {} %", 10 * k), cell(area, kSteps, 1, k, 0),
                grey_code(s.encoding, colour::Signal<>{.value = k / 10.0}));
}

Painter identification(Setting& s) {
  const auto ink = s.grey("level_cdm2");
  const auto [w, h] = s.size;
  Sheet sheet(s.size, s.black());
  border_marks(sheet, ink);
  const double aspect = s.number("display_aspect");
  const double pixel_aspect = aspect == 0 ? 1 : aspect * h / w;
  const int thickness = std::max(1, h / 540), high = h * 5 / 6;
  const auto circle = centred(whole(s.size), high / pixel_aspect, high);
  sheet.ring(circle, thickness, ink);
  const int arm = h / 10, across = 2 - w % 2, down = 2 - h % 2;
  sheet.fill(centred(whole(s.size), across, arm), ink);
  sheet.fill(centred(whole(s.size), arm, down), ink);
  const auto lines = lines_of(s);
  int longest = 0;
  for (const auto& line : lines) longest = std::max(longest, text_width(line));
  const int scale = std::max(1, std::min(h / 200, circle.width * 3 / 5 / longest));
  int top = cut(h, 16, 3);
  for (const auto& line : lines) {
    sheet.text((w - scale * text_width(line)) / 2, top, scale, line, ink);
    top += scale * (kLetterHeight + 3);
  }
  const auto strip = centred(whole(s.size), std::min(w * 0.4, circle.width * 0.7), h * 0.1);
  greys(sheet, s, {.left = strip.left, .top = cut(h, 16, 11), .width = strip.width, .height = strip.height});
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> identification_kinds() {
  return {{{.key = "identification",
            .title = "Identification and alignment",
            .purpose = "What is sent, in words; marks one pixel inside the border at corners and sides, a cross in "
                       "the middle, a circle, greys from 0 to 100 % of the signal. On a good chain every mark is "
                       "seen, one pixel thin, the circle is round and the outermost pixels are black.",
            .source = kOwnDesign,
            .parameters = {number("display_aspect", 0, 0, 3, "width / height of the shown picture; 0: square pixels"),
                           white_level("level_cdm2", "level of marks and letters", 0.5)}},
           identification}};
}

}  // namespace provenit::signal::pictures
