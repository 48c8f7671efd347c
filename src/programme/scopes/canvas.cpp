#include "canvas.h"

#include <algorithm>
#include <cmath>

namespace provenit::programme::drawing {

Canvas::Canvas(int width, int height, const Ink& ground) : drawing_{.width = width, .height = height} {
  drawing_.samples.resize(3 * static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  clip_nothing();
  fill(clip_, ground);
}

void Canvas::blend(int x, int y, const Ink& colour, double opacity) {
  if (x < clip_.x || y < clip_.y || x >= clip_.right() || y >= clip_.bottom() || !(opacity > 0)) return;
  const double k = std::min(opacity, 1.0);
  auto* at = &drawing_.samples[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(drawing_.width) +
                                    static_cast<std::size_t>(x))];
  for (std::size_t i = 0; i < 3; ++i) at[i] = static_cast<std::uint16_t>(std::lround((1 - k) * at[i] + k * colour[i]));
}

void Canvas::fill(const Rect& r, const Ink& colour, double opacity) {
  for (int y = std::max(r.y, 0); y < std::min(r.bottom(), drawing_.height); ++y)
    for (int x = std::max(r.x, 0); x < std::min(r.right(), drawing_.width); ++x) blend(x, y, colour, opacity);
}

void Canvas::frame(const Rect& r, const Ink& colour) {
  fill({r.x - 1, r.y - 1, r.width + 2, 1}, colour);
  fill({r.x - 1, r.bottom(), r.width + 2, 1}, colour);
  fill({r.x - 1, r.y, 1, r.height}, colour);
  fill({r.right(), r.y, 1, r.height}, colour);
}

void Canvas::line(const Point& from, const Point& to, const Ink& colour, double thick, Dash dash, double opacity) {
  const double dx = to.x - from.x, dy = to.y - from.y, length = std::hypot(dx, dy);
  if (!(length > 0)) return;
  const double period = dash == Dash::dashed ? 14 : 6, on = dash == Dash::dashed ? 9 : 2.5;
  const double reach = thick / 2 + 1;
  const auto first = [](double a, double b, double r) { return static_cast<int>(std::floor(std::min(a, b) - r)); };
  const auto last = [](double a, double b, double r) { return static_cast<int>(std::ceil(std::max(a, b) + r)); };
  for (int y = first(from.y, to.y, reach); y <= last(from.y, to.y, reach); ++y)
    for (int x = first(from.x, to.x, reach); x <= last(from.x, to.x, reach); ++x) {
      const double px = x + 0.5 - from.x, py = y + 0.5 - from.y;
      const double along = (px * dx + py * dy) / length, across = std::abs(px * dy - py * dx) / length;
      if (along < -0.5 || along > length + 0.5) continue;
      if (dash != Dash::solid && std::fmod(std::max(along, 0.0), period) > on) continue;
      blend(x, y, colour, opacity * std::clamp(thick / 2 + 0.5 - across, 0.0, 1.0));
    }
}

void Canvas::copy(const Drawing& picture, int x, int y, int magnify) {
  for (int row = 0; row < picture.height * magnify; ++row)
    for (int column = 0; column < picture.width * magnify; ++column) {
      const auto* from =
          &picture.samples[3 * (static_cast<std::size_t>(row / magnify) * static_cast<std::size_t>(picture.width) +
                                static_cast<std::size_t>(column / magnify))];
      blend(x + column, y + row, {from[0], from[1], from[2]}, 1);
    }
}

}  // namespace provenit::programme::drawing
