// Grids of places for evenness over the panel.
#include <fmt/format.h>

#include "pictures/painter.h"

namespace provenit::signal::pictures {
namespace {

struct Grid {
  int columns, rows;
};

std::optional<Grid> grid_of(Setting& s) {
  switch (s.whole("places")) {
    case 9:
      return Grid{3, 3};
    case 25:
      return Grid{5, 5};
    case 99:
      return Grid{11, 9};
    default:
      s.refuse(fmt::format("there is no grid of {} places", s.whole("places")), "Give 9, 25 or 99.", "places");
      return std::nullopt;
  }
}

/// Boxes in the middle of equal cells, named by column and row.
std::vector<PicturePlace> boxes_of(Setting& s, const Grid& grid, const CodeRgb& code) {
  const double side = s.size.height * s.number("box_percent") / 100;
  std::vector<PicturePlace> out;
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column) {
      const auto box = cell(whole(s.size), grid.columns, grid.rows, column, row);
      if (side > box.height || side > box.width)
        s.refuse("the boxes would touch each other", "Give a smaller box_percent.", "box_percent");
      out.push_back({fmt::format("column {} row {}", column + 1, row + 1), centred(box, side, side), code});
    }
  return out;
}

Painter uniformity_boxes(Setting& s) {
  const auto grid = grid_of(s);
  if (!grid) return {};
  const auto boxes = std::make_shared<const std::vector<PicturePlace>>(boxes_of(s, *grid, s.grey("level_cdm2")));
  const auto at = [boxes](int frame) -> const PicturePlace& { return (*boxes)[static_cast<std::size_t>(frame)]; };
  const auto make = [at, size = s.size, ground = s.grey("surround_cdm2")](int frame) {
    Sheet sheet(size, ground);
    sheet.place(at(frame).name, at(frame).area, at(frame).code);
    return sheet;
  };
  const int frames = static_cast<int>(boxes->size());
  return Painter(frames, make, [at, frames](int frame) {
    return fmt::format("box {} of {}: {}", frame + 1, frames, at(frame).name);
  });
}

Painter uniformity_field(Setting& s) {
  const auto grid = grid_of(s);
  if (!grid) return {};
  const auto code = s.grey("level_cdm2");
  Sheet sheet(s.size, code);
  for (auto& box : boxes_of(s, *grid, code)) sheet.name(std::move(box.name), box.area, box.code);
  return Painter(std::move(sheet));
}

std::vector<PictureParameter> parameters(double level) {
  return {count("places", 9, 9, 99, "9, 25 or 99"),
          number("box_percent", 8, 1, 30, "side of a place, of the raster's height"),
          white_level("level_cdm2", "level", level)};
}

}  // namespace

std::vector<Kind> uniformity_kinds() {
  auto boxes = parameters(1);
  boxes.push_back({.name = "surround_cdm2", .value = 0, .most = 10000, .meaning = "level around the box"});
  return {
      {{.key = "uniformity_boxes",
        .title = "Evenness, box by box",
        .purpose = "The places of a grid of 3 x 3, 5 x 5 or 11 x 9 equal cells, one lit per frame: evenness without "
                   "the load of a full field. On a good display all read the same.",
        .source = "numbers of places: common practice, no source; places in the middle of equal cells: own design",
        .caution = both(kBrightCaution, kStepCaution),
        .parameters = boxes},
       uniformity_boxes},
      {{.key = "uniformity_field",
        .title = "Evenness, full field",
        .purpose = "A full field with the places of the same grids named: evenness, tint, dirty-looking areas. On a "
                   "good display all read the same and nothing is seen.",
        .source = "numbers of places: common practice, no source; places in the middle of equal cells: own design",
        .caution = kBrightCaution,
        .parameters = parameters(1)},
       uniformity_field},
  };
}

}  // namespace provenit::signal::pictures
