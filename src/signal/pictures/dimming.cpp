// Local dimming: the walking box, stars, letterbox bars, halo.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "pictures/painter.h"
#include "pictures/seeded.h"

namespace provenit::signal::pictures {
namespace {

constexpr int kMostFrames = 20000;

Painter border_walk(Setting& s) {
  const bool down = s.yes("down"), far = s.yes("far_side");
  const int along = s.whole("along_pixels"), across = s.whole("across_pixels"), step = s.whole("step_pixels");
  const int gap = s.whole("border_pixels");
  const int length = down ? s.size.height : s.size.width, breadth = down ? s.size.width : s.size.height;
  if (along > length || across + gap > breadth / 2) {
    s.refuse("the box does not fit beside the border", "Give a smaller box or a smaller distance.", "across_pixels");
    return {};
  }
  const int frames = (length - along) / step + 1;
  if (frames > kMostFrames) {
    s.refuse(fmt::format("the walk would have {} steps", frames), "Give a longer step.", "step_pixels");
    return {};
  }
  const auto box_at = [=](int frame) {
    const int at = frame * step, side = far ? breadth - gap - across : gap;
    return down ? PixelRectangle{.left = side, .top = at, .width = across, .height = along}
                : PixelRectangle{.left = at, .top = side, .width = along, .height = across};
  };
  const auto make = [box_at, size = s.size, code = s.grey("level_cdm2"), ground = s.grey("surround_cdm2")](int frame) {
    Sheet sheet(size, ground);
    sheet.place("box", box_at(frame), code);
    sheet.name("middle of the raster", centred(whole(size), size.width / 16.0, size.height / 16.0), ground);
    return sheet;
  };
  return Painter(frames, make, [=](int frame) {
    return fmt::format("box at {} {} of {}, pixels {} to {} of {}", down ? "row" : "column", frame + 1, frames,
                       frame * step, frame * step + along - 1, length);
  });
}

Painter stars(Setting& s) {
  const auto code = s.grey("level_cdm2"), ground = s.grey("surround_cdm2");
  const int stars = s.whole("stars"), largest = s.whole("largest_pixels");
  Seeded random(static_cast<std::uint64_t>(s.number("seed")));
  Sheet sheet(s.size, ground);
  std::vector<PixelRectangle> kept;
  // A star keeps at least two pixels of ground around it; a place that is taken is drawn anew.
  for (int tries = 0; static_cast<int>(kept.size()) < stars && tries < 50 * stars; ++tries) {
    const int side = 1 + random.below(largest);
    const PixelRectangle star{.left = 2 + random.below(s.size.width - largest - 4),
                              .top = 2 + random.below(s.size.height - largest - 4),
                              .width = side,
                              .height = side};
    const PixelRectangle around{.left = star.left - 2, .top = star.top - 2, .width = side + 4, .height = side + 4};
    if (std::ranges::any_of(kept, [&](const auto& other) { return overlap(around, other); })) continue;
    kept.push_back(star);
    sheet.place(fmt::format("star {}, {} px", kept.size(), side), star, code);
  }
  if (static_cast<int>(kept.size()) < stars)
    s.refuse(fmt::format("{} stars do not fit on this raster", stars), "Give fewer or smaller ones.", "stars");
  return Painter(std::move(sheet));
}

Painter letterbox(Setting& s) {
  const auto object = s.grey("level_cdm2"), picture = s.grey("picture_cdm2");
  const auto black = s.black();
  const auto [w, h] = s.size;
  const double aspect = s.number("aspect");
  // Bars above and below where the picture is wider than the raster, at the sides where it is narrower.
  const bool sides = aspect * h < w;
  const auto area = centred(whole(s.size), sides ? aspect * h : w, sides ? h : w / aspect);
  const int bar = sides ? area.left : area.top;
  const int side = percent_of(h, s.number("object_percent")), gap = percent_of(h, s.number("gap_percent"), 0);
  if (bar < 4 || side + gap > (sides ? area.width : area.height)) {
    s.refuse(bar < 4 ? "the bars would be narrower than 4 pixels" : "the object does not fit into the picture",
             "Give an aspect further from the raster's, or a smaller object.", bar < 4 ? "aspect" : "object_percent");
    return {};
  }
  Sheet sheet(s.size, black);
  sheet.fill(area, picture);
  const auto middle = centred(whole(s.size), side, side);
  auto box = middle;
  (sides ? box.left : box.top) = bar + gap;
  sheet.place("object", box, object);
  const int inner = bar - 2 * (bar / 4);  // the middle half of the bar
  const auto in_bar = [&](bool far, int at, int length) {
    const int across = far ? (sides ? w : h) - bar + bar / 4 : bar / 4;
    return sides ? PixelRectangle{.left = across, .top = at, .width = inner, .height = length}
                 : PixelRectangle{.left = at, .top = across, .width = length, .height = inner};
  };
  const int at = sides ? middle.top : middle.left, length = sides ? h : w;
  sheet.name("bar beside the object", in_bar(false, at, side), black);
  sheet.name("same bar, first end", in_bar(false, 0, std::min(side, at)), black);
  sheet.name("same bar, last end", in_bar(false, length - std::min(side, at), std::min(side, at)), black);
  sheet.name("opposite bar", in_bar(true, at, side), black);
  return Painter(std::move(sheet));
}

Painter halo_rings(Setting& s) {
  const auto object = s.grey("level_cdm2"), sight = s.grey("ring_cdm2"), black = s.black();
  const auto [w, h] = s.size;
  const int diameter = centred_length(h * s.number("object_percent") / 100, h);
  const int spacing = percent_of(h, s.number("spacing_percent"), 4), rings = s.whole("rings");
  const int thickness = std::max(1, h / 1080);
  const auto round = [&](int size) {
    return PixelRectangle{.left = (w - size) / 2, .top = (h - size) / 2, .width = size, .height = size};
  };
  Sheet sheet(s.size, black);
  for (int k = rings; k >= 1; --k) sheet.ring(round(diameter + 2 * k * spacing), thickness, sight);
  const auto disc = round(diameter);
  sheet.ellipse(disc, object);
  const int inner = std::max(1, diameter * 7 / 10);
  sheet.name("disc", centred(disc, inner, inner), object);
  // Read half-way between two rings, to the right and to the left, in squares of two fifths of the spacing.
  const int square = std::max(1, spacing * 2 / 5), top = (h - square) / 2;
  for (int k = 1; k <= rings; ++k) {
    const int distance = (k - 1) * spacing + spacing / 2 - square / 2;
    const int right = disc.left + diameter + distance, left = disc.left - distance - square;
    if (right + square > w || left < 0) break;
    const double percent = 100.0 * (distance + square / 2.0) / h;
    sheet.name(fmt::format("right, {:.3g} % from the disc", percent),
               {.left = right, .top = top, .width = square, .height = square}, black);
    sheet.name(fmt::format("left, {:.3g} % from the disc", percent),
               {.left = left, .top = top, .width = square, .height = square}, black);
  }
  return Painter(std::move(sheet));
}

PictureParameter surround() {
  return {.name = "surround_cdm2", .value = 0, .most = 10000, .meaning = "level of the ground"};
}

}  // namespace

std::vector<Kind> dimming_kinds() {
  return {
      {{.key = "border_walk",
        .title = "Box along the border",
        .purpose = "A small bright box walks along a border row or column: each dimming zone it enters lights up, so "
                   "the zones can be counted by column and by row. On a display without zones only the box moves. "
                   "Let each step settle for 1 to 3 seconds; zones = columns x rows only if the grid is regular.",
        .source = kCommonPractice,
        .caution = kStepCaution,
        .parameters = {yes_no("down", false, "0: from left to right along a row; 1: down a column"),
                       yes_no("far_side", false, "0: along the top row or left column; 1: the bottom or right one"),
                       count("step_pixels", 16, 1, 1000, "from one frame to the next"),
                       count("along_pixels", 16, 1, 1000, "the box, in the direction it walks"),
                       count("across_pixels", 32, 1, 1000, "the box, across that"),
                       count("border_pixels", 0, 0, 1000, "pixels between box and border"),
                       peak_level("level_cdm2", "level of the box"), surround()}},
       border_walk},
      {{.key = "stars",
        .title = "Stars",
        .purpose = "Points of one to three pixels on black, seeded: whether local dimming swallows small lights or "
                   "lifts the black around them. A good display shows every one at its level on a black that stays.",
        .source = kOwnDesign,
        .parameters = {count("stars", 200, 1, 2000, "number of stars"),
                       count("largest_pixels", 3, 1, 3, "sides go from 1 to this"),
                       count("seed", 1, 0, 1000000, "another seed, another sky"),
                       peak_level("level_cdm2", "level of the stars"), surround()}},
       stars},
      {{.key = "letterbox_object",
        .title = "Bright object at letterbox bars",
        .purpose = "A bright object beside the black bar of a wide picture (or of a narrow one, at the side): how "
                   "much of its light falls into the bar. On a good display the bar beside it is as black as the "
                   "opposite one.",
        .source = kOwnDesign,
        .caution = kBrightCaution,
        .parameters = {number("aspect", 2.39, 1, 3, "width / height of the picture between the bars"),
                       number("object_percent", 15, 1, 60, "side of the object, of the raster's height"),
                       number("gap_percent", 0, 0, 50, "between bar and object, of the raster's height"),
                       peak_level("level_cdm2", "level of the object"),
                       white_level("picture_cdm2", "level of the picture around it", 0.01)}},
       letterbox},
      {{.key = "halo_rings",
        .title = "Halo with rings",
        .purpose = "A bright disc with thin dim rings at equal distances as sights, and black between them to be read "
                   "to the right and left: halo by distance. On a good display black between the rings is the same "
                   "everywhere. Mask the meter's lens against stray light.",
        .source = kOwnDesign,
        .caution = kBrightCaution,
        .parameters = {number("object_percent", 20, 1, 60, "diameter of the disc, of the raster's height"),
                       number("spacing_percent", 6, 2, 30, "between rings, of the raster's height"),
                       count("rings", 6, 1, 20, "number of rings; those beyond the raster are cut off"),
                       peak_level("level_cdm2", "level of the disc"),
                       white_level("ring_cdm2", "level of the rings", 0.003)}},
       halo_rings},
  };
}

}  // namespace provenit::signal::pictures
