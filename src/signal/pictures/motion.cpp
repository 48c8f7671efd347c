// A bar that moves, and a comb of bars that shows how far a display that holds its pictures blurs them.
#include <fmt/format.h>

#include <array>

#include "pictures/painter.h"

namespace provenit::signal::pictures {
namespace {

/// Fills the area as if the raster's left and right borders met; named if it is not cut in two.
void fill_round(Sheet& sheet, const std::string& name, PixelRectangle area, const CodeRgb& code) {
  const int width = sheet.size().width;
  area.left %= width;
  if (area.left + area.width <= width) {
    sheet.place(name, area, code);
    return;
  }
  sheet.fill(area, code);
  area.left -= width;
  sheet.fill(area, code);
}

std::string position_text(int frame, int frames, int pixel) {
  return fmt::format("frame {} of {}, at pixel {}", frame + 1, frames, pixel);
}

Painter moving_bar(Setting& s) {
  const int speed = s.whole("pixels_per_frame"), bar = s.whole("bar_pixels");
  if (bar > s.size.width / 2) {
    s.refuse("the bar is wider than half the raster", "Give fewer pixels.", "bar_pixels");
    return {};
  }
  const auto code = s.grey("level_cdm2"), ground = s.grey("surround_cdm2");
  const int frames = (s.size.width + speed - 1) / speed;
  const auto make = [=, size = s.size](int frame) {
    Sheet sheet(size, ground);
    const auto band = centred(whole(size), size.width, size.height * 0.6);
    fill_round(sheet, "bar", {.left = frame * speed, .top = band.top, .width = bar, .height = band.height}, code);
    sheet.name("ground above", {.width = size.width, .height = band.top}, ground);
    return sheet;
  };
  return Painter(frames, make, [=](int frame) { return position_text(frame, frames, frame * speed); });
}

constexpr std::array<int, 6> kWidths{1, 2, 4, 8, 16, 32};
constexpr int kBars = 4;

/// Widest bars of the comb whose whole length fits into half the width.
std::size_t groups_for(int width) {
  std::size_t groups = 0;
  for (int length = 0; groups < kWidths.size(); ++groups) {
    length += 2 * (kBars + 1) * kWidths[groups];
    if (length > width / 2) break;
  }
  return groups;
}

void draw_comb(Sheet& sheet, const std::string& name, int left, int top, int height, const CodeRgb& code) {
  const auto groups = groups_for(sheet.size().width);
  for (std::size_t g = 0; g < groups; ++g) {
    const int width = kWidths[g];
    for (int bar = 0; bar < kBars; ++bar)
      fill_round(sheet, fmt::format("{}, {} px, bar {}", name, width, bar + 1),
                 {.left = left + 2 * bar * width, .top = top, .width = width, .height = height}, code);
    left += 2 * (kBars + 1) * width;
  }
}

Painter blur_comb(Setting& s) {
  const int speed = s.whole("pixels_per_frame");
  const auto code = s.grey("level_cdm2"), ground = s.grey("surround_cdm2");
  const int frames = (s.size.width + speed - 1) / speed;
  const auto make = [=, size = s.size](int frame) {
    Sheet sheet(size, ground);
    const int height = size.height / 4;
    draw_comb(sheet, "still", size.width / 4, size.height * 5 / 8, height, code);
    draw_comb(sheet, "moving", size.width / 4 + frame * speed, size.height / 8, height, code);
    return sheet;
  };
  return Painter(frames, make,
                 [=, at = s.size.width / 4](int frame) { return position_text(frame, frames, at + frame * speed); });
}

std::vector<PictureParameter> with_motion(std::vector<PictureParameter> own) {
  own.push_back(count("pixels_per_frame", 8, 1, 64, "speed to the right"));
  own.push_back(white_level("level_cdm2", "level of the bars", 0.5));
  own.push_back({.name = "surround_cdm2", .value = 0, .most = 10000, .meaning = "level of the ground"});
  return own;
}

}  // namespace

std::vector<Kind> motion_kinds() {
  return {
      {{.key = "moving_bar",
        .title = "Moving bar",
        .purpose = "A bar crosses the raster once: trailing, overshoot, zones that lag, steps missed. On a good "
                   "display both edges stay clean and the ground behind it dark. The file is to be played at the "
                   "rate of the display.",
        .source = kCommonPractice,
        .caution = kMotionCaution,
        .parameters = with_motion({count("bar_pixels", 64, 1, 4096, "width of the bar")})},
       moving_bar},
      {{.key = "blur_comb",
        .title = "Hold-type blur, comb of edges",
        .purpose = "Groups of four bars of 1, 2, 4 ... 32 pixels, moving above and still below. To an eye that "
                   "follows, a display that holds each picture for the whole frame blurs by the pixels per frame, so "
                   "bars about that wide and narrower merge; the narrowest group that stays apart tells how long it "
                   "holds.",
        .source = kOwnDesign,
        .caution = kMotionCaution,
        .parameters = with_motion({})},
       blur_comb},
  };
}

}  // namespace provenit::signal::pictures
