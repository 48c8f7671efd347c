#pragma once
// A signal as pixels: the exact code values at every place of a picture of any size.
#include <cstdint>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// Pixels across and down.
struct RasterSize {
  int width = 3840, height = 2160;
  friend bool operator==(const RasterSize&, const RasterSize&) = default;
};

/// Part of a raster; (0, 0) is the top left pixel.
struct PixelRectangle {
  int left = 0, top = 0, width = 0, height = 0;
  [[nodiscard]] bool holds(int x, int y) const { return x >= left && x < left + width && y >= top && y < top + height; }
  friend bool operator==(const PixelRectangle&, const PixelRectangle&) = default;
};

/// A signal on a raster. Rows are made when asked for, so that size costs no memory. Calls on one object may run at
/// once.
///
/// window        each side is sqrt(area_fraction) of the raster's, rounded to the nearest number of pixels that is even
///               where the raster's side is even and odd where it is odd, and at least 2 or 1: so the window is centred
///               to the pixel and its area is right to within one pixel on each side (see area_fraction_reached)
///               off centre (along either axis): the nearest number of pixels, at least 1, at the nearest place
/// checkerboard  the boundary after k of n columns is at k / n of the width, rounded to the nearest pixel in the left
///               half and mirrored in the right: the centre square of an odd count is centred to the pixel, and squares
///               differ by one pixel at most; rows likewise
class Raster {
 public:
  /// Errors: those of validate(); out_of_range for a size outside 1 to 32768 or a checkerboard finer than the raster.
  [[nodiscard]] static Result<Raster> make(const Signal& signal, RasterSize size);

  [[nodiscard]] const Signal& signal() const { return signal_; }
  [[nodiscard]] RasterSize size() const { return size_; }
  /// Where the patch is read: the whole raster, the window, or the centre square (see Shape).
  [[nodiscard]] PixelRectangle patch() const { return patch_; }
  /// Pixels of the patch over pixels of the raster: for a window what its area_fraction came to.
  [[nodiscard]] double area_fraction_reached() const;

  /// The pixel's codes; x in [0, width), y in [0, height).
  [[nodiscard]] const CodeRgb& at(int x, int y) const;
  /// Row y from left to right, three values per pixel (R', G', B'), each a code value of the signal's bit depth.
  [[nodiscard]] std::vector<std::uint16_t> row(int y) const;

 private:
  Raster() = default;
  Signal signal_;
  RasterSize size_;
  PixelRectangle patch_;
  std::vector<int> columns_, rows_;  ///< checkerboard: first pixel of each, and the end
};

}  // namespace provenit::signal
