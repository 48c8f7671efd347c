#pragma once
// Where the views are drawn: rectangles, lines, letters and pictures on a neutral ground.
#include <string_view>

#include "provenit/programme/look.h"

namespace provenit::programme::drawing {

struct Rect {
  int x = 0, y = 0, width = 0, height = 0;
  [[nodiscard]] int right() const { return x + width; }
  [[nodiscard]] int bottom() const { return y + height; }
};
struct Point {
  double x = 0, y = 0;
};

/// A colour as #rrggbb.
[[nodiscard]] constexpr Ink ink(std::uint32_t rgb) {
  const auto part = [rgb](int shift) { return static_cast<std::uint16_t>((rgb >> shift & 0xffU) * 257U); };
  return {part(16), part(8), part(0)};
}
inline constexpr Ink kGround = ink(0x1e1e1e), kPlotGround = ink(0x101010), kGrid = ink(0x3a3a3a),
                     kFaint = ink(0x8c8c8c), kText = ink(0xdcdcdc), kWarm = ink(0xe9b44c), kCold = ink(0x7cc4f0),
                     kWhite = ink(0xffffff);

enum class Align { left, centre, right };
enum class Dash { solid, dashed, dotted };

class Canvas {
 public:
  Canvas(int width, int height, const Ink& ground = kGround);
  void fill(const Rect& r, const Ink& colour, double opacity = 1);
  void frame(const Rect& r, const Ink& colour);  ///< one pixel wide, just outside r
  void line(const Point& from, const Point& to, const Ink& colour, double thick = 1, Dash dash = Dash::solid,
            double opacity = 1);
  /// Nothing is drawn outside r from now on.
  void clip(const Rect& r) { clip_ = r; }
  void clip_nothing() { clip_ = {0, 0, drawing_.width, drawing_.height}; }
  void blend(int x, int y, const Ink& colour, double opacity);
  void copy(const Drawing& picture, int x, int y, int magnify = 1);
  /// Letters of `size` pixels from line to line; y is the middle of the line. UTF-8.
  void text(double x, double y, double size, const Ink& colour, std::string_view what, Align align = Align::left);
  [[nodiscard]] const Drawing& drawing() const { return drawing_; }
  [[nodiscard]] Drawing take() { return std::move(drawing_); }

 private:
  Drawing drawing_;
  Rect clip_;
};

[[nodiscard]] double text_width(double size, std::string_view what);

}  // namespace provenit::programme::drawing
