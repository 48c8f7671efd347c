#pragma once
// Where things lie on a raster, in whole pixels. The same numbers on every machine: integers, and the correctly rounded
// square root where an area is asked for.
#include "provenit/signal/raster.h"

namespace provenit::signal::pictures {

/// Boundary after k of n equal parts of a side, to the nearest pixel and mirrored: cut(n - k) = side - cut(k), except
/// the middle one of an odd side, which lies half a pixel to the right.
[[nodiscard]] int cut(int side, int n, int k);
/// Cell of a grid over an area; cells differ by one pixel at most.
[[nodiscard]] PixelRectangle cell(const PixelRectangle& area, int columns, int rows, int column, int row);
/// The whole raster.
[[nodiscard]] PixelRectangle whole(RasterSize size);
/// The area without `pixels` on each side; at least one pixel stays.
[[nodiscard]] PixelRectangle inset(const PixelRectangle& area, int pixels);
/// Nearest to `wanted` of the lengths that leave equal borders in `side`; from 1 or 2 pixels to the side.
[[nodiscard]] int centred_length(double wanted, int side);
/// A rectangle of about that size in the middle of the area, centred to the pixel.
[[nodiscard]] PixelRectangle centred(const PixelRectangle& area, double width, double height);
/// The window of that share of the raster's area, with the raster's aspect: as Raster has it.
[[nodiscard]] PixelRectangle window(RasterSize size, double area_percent);
/// Round(percent of length), at least `least`.
[[nodiscard]] int percent_of(int length, double percent, int least = 1);
[[nodiscard]] bool overlap(const PixelRectangle& a, const PixelRectangle& b);

}  // namespace provenit::signal::pictures
