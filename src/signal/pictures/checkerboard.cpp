// n x m checkerboard, both phases, with a measuring square in the middle.
#include <fmt/format.h>

#include <algorithm>

#include "pictures/painter.h"

namespace provenit::signal::pictures {
namespace {

/// What is left of a check for reading beside the measuring square: the wider part to its left or right, or above or
/// below it; empty if the square fills it.
PixelRectangle beside(const PixelRectangle& check, const PixelRectangle& square) {
  if (square.width == 0 || !overlap(check, square)) return check;
  const int check_right = check.left + check.width, square_right = square.left + square.width;
  const int left = square.left - check.left, right = check_right - square_right;
  auto part = check;
  part.width = std::max({left, right, 0});
  if (right > left) part.left = square_right;
  return part;
}

Painter checkerboard(Setting& s) {
  const int columns = s.whole("columns"), rows = s.whole("rows");
  const CodeRgb code[2] = {s.grey("white_cdm2"), s.grey("black_cdm2")};
  const auto area = whole(s.size);
  const int phase = s.whole("phase"), square_kind = s.whole("square");
  const auto middle = cell(area, columns, rows, columns / 2, rows / 2);
  PixelRectangle square;
  if (square_kind != 0) {
    const int side = percent_of(std::min(middle.width, middle.height), s.number("square_percent"));
    square = centred(area, side, side);
  }
  Sheet sheet(s.size, s.black());
  std::vector<PicturePlace> checks;
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column) {
      const auto box = cell(area, columns, rows, column, row);
      const auto& c = code[static_cast<std::size_t>((column + row + phase) % 2)];
      sheet.fill(box, c);
      const auto part = beside(box, square);
      if (part.width > 0) checks.push_back({fmt::format("column {} row {}", column + 1, row + 1), part, c});
    }
  if (square_kind != 0) sheet.place("centre", square, code[square_kind == 1 ? 1 : 0]);
  // Without a square, and with odd numbers both ways, the middle check is what is read first.
  const bool odd = columns % 2 == 1 && rows % 2 == 1;
  if (square_kind == 0 && odd) std::swap(checks.front(), checks[checks.size() / 2]);
  for (auto& check : checks) sheet.name(std::move(check.name), check.area, check.code);
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> checkerboard_kinds() {
  return {{{.key = "checkerboard",
            .title = "Checkerboard",
            .purpose = "White and black checks, in both phases, with a square for the meter in the middle: contrast "
                       "inside a picture. On a good display black stays close to its level on a black field, white "
                       "to its level in a window. Mask the meter's lens against stray light.",
            .source = "checks of black and white after IDMS (n x m checkerboard); square: own design",
            .caution = kBrightCaution,
            .parameters = {count("columns", 4, 2, 64, "checks across"),
                           count("rows", 4, 2, 64, "checks down"),
                           count("phase", 0, 0, 1, "0: the check at top left is white; 1: it is black"),
                           count("square", 0, 0, 2, "square in the middle: 0 none, 1 black, 2 white"),
                           number("square_percent", 60, 5, 90, "its side, of the shorter side of a check"),
                           white_level("white_cdm2", "level of white"),
                           {.name = "black_cdm2", .value = 0, .most = 10000, .meaning = "level of black"}}},
           checkerboard}};
}

}  // namespace provenit::signal::pictures
