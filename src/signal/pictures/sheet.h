#pragma once
// One frame of a test picture as what is drawn, in order, and the places whose code is known. A frame is never held as
// pixels: its rows are made when asked for.
#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/signal/raster.h"
#include "provenit/signal/test_picture.h"

namespace provenit::signal::pictures {

class Sheet {
 public:
  Sheet() = default;
  Sheet(RasterSize size, const CodeRgb& ground) : size_(size), ground_(ground) {}

  /// What is drawn later lies above. Parts outside the raster are cut off.
  void fill(const PixelRectangle& area, const CodeRgb& code);
  /// Pixels of the area for which `holds` is true.
  void shape(const PixelRectangle& area, const CodeRgb& code, std::function<bool(int x, int y)> holds);
  /// Each pixel of the area by itself.
  void pattern(const PixelRectangle& area, std::function<CodeRgb(int x, int y)> colour);
  /// The ellipse that fills the area: pixels whose centre is not outside it.
  void ellipse(const PixelRectangle& area, const CodeRgb& code);
  /// What lies between the ellipse of the area and that of the area less `thickness` on each side.
  void ring(const PixelRectangle& area, int thickness, const CodeRgb& code);
  /// Letters 7 pixels high times `scale`, from their top left corner; see letters.h.
  void text(int left, int top, int scale, std::string_view letters, const CodeRgb& code);

  /// Fills the area and names it as a place.
  void place(std::string name, const PixelRectangle& area, const CodeRgb& code);
  /// Names a place that is drawn otherwise. It must be of one code.
  void name(std::string name, const PixelRectangle& area, const CodeRgb& code);

  [[nodiscard]] const std::vector<PicturePlace>& places() const { return places_; }
  [[nodiscard]] std::vector<std::uint16_t> row(int y) const;
  [[nodiscard]] RasterSize size() const { return size_; }

 private:
  struct Mark {
    PixelRectangle area;
    CodeRgb code;
    std::function<bool(int, int)> holds;      ///< empty: all of it
    std::function<CodeRgb(int, int)> colour;  ///< empty: code
  };
  RasterSize size_;
  CodeRgb ground_;
  std::vector<Mark> marks_;
  std::vector<PicturePlace> places_;
};

}  // namespace provenit::signal::pictures
