#include "pictures/sheet.h"

#include <algorithm>

#include "pictures/layout.h"
#include "pictures/letters.h"

namespace provenit::signal::pictures {
namespace {

/// Whether the pixel's centre lies in the ellipse that fills the area. All in halves of a pixel, so exact.
bool in_ellipse(const PixelRectangle& area, int x, int y) {
  const std::int64_t w = area.width, h = area.height;
  const std::int64_t dx = 2 * (x - area.left) + 1 - w, dy = 2 * (y - area.top) + 1 - h;
  return dx * dx * h * h + dy * dy * w * w <= w * w * h * h;
}

}  // namespace

void Sheet::fill(const PixelRectangle& area, const CodeRgb& code) {
  marks_.push_back({.area = area, .code = code});
}

void Sheet::shape(const PixelRectangle& area, const CodeRgb& code, std::function<bool(int, int)> holds) {
  marks_.push_back({.area = area, .code = code, .holds = std::move(holds)});
}

void Sheet::pattern(const PixelRectangle& area, std::function<CodeRgb(int, int)> colour) {
  marks_.push_back({.area = area, .colour = std::move(colour)});
}

void Sheet::ellipse(const PixelRectangle& area, const CodeRgb& code) {
  shape(area, code, [area](int x, int y) { return in_ellipse(area, x, y); });
}

void Sheet::ring(const PixelRectangle& area, int thickness, const CodeRgb& code) {
  const auto inner = inset(area, thickness);
  shape(area, code, [area, inner](int x, int y) { return in_ellipse(area, x, y) && !in_ellipse(inner, x, y); });
}

void Sheet::text(int left, int top, int scale, std::string_view letters, const CodeRgb& code) {
  const PixelRectangle area{
      .left = left, .top = top, .width = scale * text_width(letters), .height = scale * kLetterHeight};
  shape(area, code, [area, scale, held = std::string(letters)](int x, int y) {
    return letter_pixel(held, (x - area.left) / scale, (y - area.top) / scale);
  });
}

void Sheet::place(std::string name, const PixelRectangle& area, const CodeRgb& code) {
  fill(area, code);
  places_.push_back({.name = std::move(name), .area = area, .code = code});
}

void Sheet::name(std::string name, const PixelRectangle& area, const CodeRgb& code) {
  places_.push_back({.name = std::move(name), .area = area, .code = code});
}

std::vector<std::uint16_t> Sheet::row(int y) const {
  std::vector<std::uint16_t> out(3 * static_cast<std::size_t>(size_.width));
  const auto put = [&out](int x, const CodeRgb& code) {
    for (std::size_t c = 0; c < 3; ++c)
      out[3 * static_cast<std::size_t>(x) + c] = static_cast<std::uint16_t>(code.code[c]);
  };
  for (int x = 0; x < size_.width; ++x) put(x, ground_);
  for (const auto& mark : marks_) {
    if (y < mark.area.top || y >= mark.area.top + mark.area.height) continue;
    const int end = std::min(mark.area.left + mark.area.width, size_.width);
    for (int x = std::max(mark.area.left, 0); x < end; ++x)
      if (!mark.holds || mark.holds(x, y)) put(x, mark.colour ? mark.colour(x, y) : mark.code);
  }
  return out;
}

}  // namespace provenit::signal::pictures
