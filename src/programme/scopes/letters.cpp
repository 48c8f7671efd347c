// Letters from the embedded font.
#include <stb_truetype.h>

#include <cmath>

#include "canvas.h"
#include "programme_assets.h"

namespace provenit::programme::drawing {
namespace {

const stbtt_fontinfo& font() {
  static const stbtt_fontinfo info = [] {
    stbtt_fontinfo f{};
    const auto bytes = find_programme_asset("/DejaVuSans-subset.ttf");
    stbtt_InitFont(&f, reinterpret_cast<const unsigned char*>(bytes.data()), 0);
    return f;
  }();
  return info;
}

/// Code points of UTF-8; a byte that fits nowhere is passed over.
template <class F>
void for_each_point(std::string_view text, F f) {
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i++]);
    const int more = lead < 0x80 ? 0 : lead >= 0xf0 ? 3 : lead >= 0xe0 ? 2 : lead >= 0xc0 ? 1 : -1;
    if (more < 0) continue;
    int point = more == 0 ? lead : lead & (0x3f >> more);
    for (int k = 0; k < more && i < text.size(); ++k)
      point = point << 6 | (static_cast<unsigned char>(text[i++]) & 0x3f);
    f(point);
  }
}

double advance(int point, double scale) {
  int width = 0, bearing = 0;
  stbtt_GetCodepointHMetrics(&font(), point, &width, &bearing);
  return width * scale;
}

double scale_of(double size) {
  return static_cast<double>(stbtt_ScaleForPixelHeight(&font(), static_cast<float>(size)));
}

}  // namespace

double text_width(double size, std::string_view what) {
  double width = 0;
  for_each_point(what, [&](int point) { width += advance(point, scale_of(size)); });
  return width;
}

void Canvas::text(double x, double y, double size, const Ink& colour, std::string_view what, Align align) {
  const double scale = scale_of(size);
  if (align != Align::left) x -= text_width(size, what) * (align == Align::right ? 1 : 0.5);
  // Digits and capitals are about 0.62 of the size high: their middle goes to y.
  const double baseline = std::round(y + 0.31 * size);
  for_each_point(what, [&](int point) {
    const auto factor = static_cast<float>(scale);
    const auto shift = static_cast<float>(x - std::floor(x));
    int left = 0, top = 0, right = 0, bottom = 0;
    stbtt_GetCodepointBitmapBoxSubpixel(&font(), point, factor, factor, shift, 0, &left, &top, &right, &bottom);
    const int width = right - left, height = bottom - top;
    if (width > 0 && height > 0) {
      std::vector<unsigned char> ink(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
      stbtt_MakeCodepointBitmapSubpixel(&font(), ink.data(), width, height, width, factor, factor, shift, 0, point);
      for (int row = 0; row < height; ++row)
        for (int column = 0; column < width; ++column)
          blend(
              static_cast<int>(std::floor(x)) + left + column, static_cast<int>(baseline) + top + row, colour,
              ink[static_cast<std::size_t>(row) * static_cast<std::size_t>(width) + static_cast<std::size_t>(column)] /
                  255.0);
    }
    x += advance(point, scale);
  });
}

}  // namespace provenit::programme::drawing
