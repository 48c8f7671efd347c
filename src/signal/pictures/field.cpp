// Full field, window, disc, and the light that stays.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "pictures/painter.h"

namespace provenit::signal::pictures {
namespace {

std::vector<PictureParameter> with_colour(std::vector<PictureParameter> out) {
  for (const char* channel : {"red_percent", "green_percent", "blue_percent"})
    out.push_back(number(channel, 100, 0, 100, "linear light of this channel, of the level"));
  return out;
}

std::vector<PictureParameter> with_window(std::vector<PictureParameter> out) {
  out.push_back(number("centre_x_percent", 50, 0, 100, "centre, of the width"));
  out.push_back(number("centre_y_percent", 50, 0, 100, "centre, of the height"));
  out.push_back({.name = "surround_cdm2", .value = 0, .most = 10000, .meaning = "level around it"});
  return with_colour(std::move(out));
}

CodeRgb colour_of(Setting& s) {
  const double level = s.number("level_cdm2");
  const double r = s.number("red_percent"), g = s.number("green_percent"), b = s.number("blue_percent");
  // A grey goes the way of all greys, so that the window agrees with every other picture to the code.
  if (r == g && g == b) return s.grey(level * r / 100, "level_cdm2");
  return s.colour(colour::AbsoluteRgb<>{.r = level * r / 100, .g = level * g / 100, .b = level * b / 100},
                  "level_cdm2");
}

/// The area with its centre moved to where the parameters say.
PixelRectangle moved(Setting& s, PixelRectangle area) {
  area.left = static_cast<int>(std::lround(s.number("centre_x_percent") / 100 * s.size.width - area.width / 2.0));
  area.top = static_cast<int>(std::lround(s.number("centre_y_percent") / 100 * s.size.height - area.height / 2.0));
  if (area.left < 0 || area.top < 0 || area.left + area.width > s.size.width || area.top + area.height > s.size.height)
    s.refuse("it would lie partly outside the raster", "Give a smaller area or a centre nearer to the middle.",
             "centre_x_percent");
  return area;
}

Painter full_field(Setting& s) {
  Sheet sheet(s.size, s.black());
  sheet.place("field", whole(s.size), colour_of(s));
  return Painter(std::move(sheet));
}

/// The four parts of the raster around an area, for what has pixels.
void name_surround(Sheet& sheet, const PixelRectangle& a, const CodeRgb& code) {
  const auto [w, h] = sheet.size();
  const auto name = [&](const char* text, const PixelRectangle& part) {
    if (part.width > 0 && part.height > 0) sheet.name(text, part, code);
  };
  name("left of it", {.left = 0, .top = 0, .width = a.left, .height = h});
  name("right of it", {.left = a.left + a.width, .top = 0, .width = w - a.left - a.width, .height = h});
  name("above it", {.left = a.left, .top = 0, .width = a.width, .height = a.top});
  name("below it", {.left = a.left, .top = a.top + a.height, .width = a.width, .height = h - a.top - a.height});
}

Painter window_picture(Setting& s) {
  const auto surround = s.grey("surround_cdm2");
  Sheet sheet(s.size, surround);
  const auto area = moved(s, window(s.size, s.number("area_percent")));
  sheet.place("window", area, colour_of(s));
  name_surround(sheet, area, surround);
  return Painter(std::move(sheet));
}

Painter disc(Setting& s) {
  const auto surround = s.grey("surround_cdm2");
  const double pixels = s.number("area_percent") / 100 * s.size.width * s.size.height;
  const double across = 2 * std::sqrt(pixels / std::numbers::pi);
  if (across > std::min(s.size.width, s.size.height)) {
    s.refuse("the disc is larger than the raster", "Give a smaller area.", "area_percent");
    return {};
  }
  // Centred to the pixel up and down, and across too where both sides are even or both odd.
  const int diameter = centred_length(across, s.size.height);
  const auto area = moved(s, {.width = diameter, .height = diameter});
  Sheet sheet(s.size, surround);
  const auto code = colour_of(s);
  sheet.ellipse(area, code);
  // The square that surely lies inside: 7 / 10 < 1 / sqrt(2).
  const int inner = std::max(1, diameter * 7 / 10);
  sheet.name("disc", centred(area, inner, inner), code);
  name_surround(sheet, area, surround);
  return Painter(std::move(sheet));
}

constexpr const char* kSettle = "A good display holds the level asked for, evenly and without colour";

}  // namespace

std::vector<Kind> field_kinds() {
  const auto area = [](double percent) {
    return number("area_percent", percent, 0.01, 100, "area of the raster; sides have the raster's aspect");
  };
  return {
      {{.key = "full_field",
        .title = "Full field",
        .purpose = "One colour over the whole raster: level, white, primaries, evenness. " + std::string(kSettle) + ".",
        .source = kCommonPractice,
        .caution = kBrightCaution,
        .parameters = with_colour({white_level("level_cdm2", "level; of a grey its luminance")})},
       full_field},
      {{.key = "window",
        .title = "Window",
        .purpose = "A rectangle of any area, place and level on a surround: peak, level by area, colour. " +
                   std::string(kSettle) + ", and leaves the surround as it was.",
        .source = kCommonPractice,
        .caution = kBrightCaution,
        .parameters = with_window({area(10), white_level("level_cdm2", "level; of a grey its luminance")})},
       window_picture},
      {{.key = "disc",
        .title = "Disc",
        .purpose = "The same as a disc (round in pixels), whose edge is everywhere at the same distance from where "
                   "it is read. " +
                   std::string(kSettle) + ".",
        .source = kCommonPractice,
        .caution = kBrightCaution,
        .parameters = with_window({number("area_percent", 10, 0.01, 78, "area of the raster"),
                                   white_level("level_cdm2", "level; of a grey its luminance")})},
       disc},
      {{.key = "long_stay",
        .title = "Light that stays",
        .purpose = "A fixed bright window, kept while luminance is read over minutes: shows how and when a limiter "
                   "takes light back. A good display holds the level, or settles quickly at one it then holds.",
        .source = kCommonPractice,
        .caution = "Bright for minutes: can hurt dark-adapted eyes, leaves traces on self-emissive panels and heats "
                   "the panel. Do not look at it, agree the time with the owner, log it, end on black.",
        .parameters = with_window({area(25), peak_level("level_cdm2", "level")})},
       window_picture},
  };
}

}  // namespace provenit::signal::pictures
