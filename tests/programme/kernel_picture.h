#pragma once
// Pictures made in memory for the tests: own samples in any layout.
#include <cstdint>
#include <cstring>
#include <functional>
#include <memory>
#include <vector>

#include "provenit/programme/picture.h"

namespace provenit::programme::testing {

/// How the samples lie in memory.
struct Layout {
  std::ptrdiff_t padding = 0;  ///< bytes after each row
  bool upside_down = false;    ///< negative stride
};

inline int bytes_per_sample(const PictureFormat& f) {
  if (f.is_float) return 4;
  return f.bits == 8 ? 1 : 2;
}
inline int plane_count(const PictureFormat& f) {
  return f.chroma == Chroma::grey ? 1 : 3;
}
inline int plane_width(const PictureFormat& f, int plane) {
  return plane > 0 && (f.chroma == Chroma::c420 || f.chroma == Chroma::c422) ? (f.width + 1) / 2 : f.width;
}
inline int plane_height(const PictureFormat& f, int plane) {
  return plane > 0 && f.chroma == Chroma::c420 ? (f.height + 1) / 2 : f.height;
}

/// Picture whose sample at x, y of each plane is what `sample` says (a code, or the float itself).
inline Picture make_picture(const PictureFormat& format, const std::function<double(int plane, int x, int y)>& sample,
                            Layout layout = {}) {
  Picture picture;
  picture.format = format;
  auto owner = std::make_shared<std::vector<std::vector<std::byte>>>();
  const int size = bytes_per_sample(format);
  for (int p = 0; p < plane_count(format); ++p) {
    const int width = plane_width(format, p), height = plane_height(format, p);
    const std::ptrdiff_t stride = std::ptrdiff_t{width} * size + layout.padding;
    auto& bytes = owner->emplace_back(static_cast<std::size_t>(stride * height));
    std::byte* first = bytes.data() + (layout.upside_down ? stride * (height - 1) : 0);
    const std::ptrdiff_t step = layout.upside_down ? -stride : stride;
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        const double value = sample(p, x, y);
        std::byte* at = first + y * step + std::ptrdiff_t{x} * size;
        if (format.is_float) {
          const auto f = static_cast<float>(value);
          std::memcpy(at, &f, 4);
        } else {
          const auto code = static_cast<std::uint16_t>(value);
          const auto small = static_cast<std::uint8_t>(code);
          std::memcpy(at, size == 1 ? static_cast<const void*>(&small) : &code, static_cast<std::size_t>(size));
        }
      }
    picture.planes[p] = {.data = first, .stride = step, .width = width, .height = height};
  }
  picture.owner = owner;
  return picture;
}

/// Picture of one R'G'B' triple of codes.
inline Picture flat_rgb(int bits, colour::Range range, Transfer transfer, std::array<int, 3> code,
                        double peak_cdm2 = 1000) {
  const PictureFormat format{.width = 4,
                             .height = 4,
                             .bits = bits,
                             .chroma = Chroma::rgb,
                             .range = range,
                             .transfer = transfer,
                             .gamut = Gamut::bt2020,
                             .matrix = Matrix::rgb,
                             .peak_cdm2 = peak_cdm2};
  return make_picture(format, [&](int plane, int, int) { return code[plane]; });
}

}  // namespace provenit::programme::testing
