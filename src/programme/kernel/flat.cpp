#include "kernel/flat.h"

#include <algorithm>
#include <cstring>

namespace provenit::programme::kernel {
namespace {

template <class T>
T load(const std::byte* row, int x) {
  T value{};
  std::memcpy(&value, row + std::ptrdiff_t{x} * static_cast<std::ptrdiff_t>(sizeof(T)), sizeof(T));
  return value;
}

template <class T>
bool equal_samples(const Plane& plane, const Rect& rect) {
  const T first = load<T>(plane.data + rect.y * plane.stride, rect.x);
  constexpr int kChunk = 32;
  for (int y = rect.y; y < rect.y + rect.height; ++y) {
    const std::byte* row = plane.data + y * plane.stride;
    int x = rect.x;
    const int end = rect.x + rect.width;
    for (; x + kChunk <= end; x += kChunk) {
      T differences{};
      for (int i = 0; i < kChunk; ++i) differences = static_cast<T>(differences | (load<T>(row, x + i) ^ first));
      if (differences != 0) return false;
    }
    for (; x < end; ++x)
      if (load<T>(row, x) != first) return false;
  }
  return true;
}

bool equal_samples(const PictureFormat& f, const Plane& plane, const Rect& rect) {
  if (f.is_float) return equal_samples<std::uint32_t>(plane, rect);
  return f.bits == 8 ? equal_samples<std::uint8_t>(plane, rect) : equal_samples<std::uint16_t>(plane, rect);
}

/// Chroma samples that reach into the rectangle, one to each side more than it covers.
Rect chroma_rect(const PictureFormat& f, const Plane& plane, const Rect& luma) {
  if (horizontal_spacing(f) == Spacing::full) return luma;
  const bool half_height = vertical_spacing(f) != Spacing::full;
  const int left = std::max(luma.x / 2 - 1, 0), right = std::min((luma.x + luma.width) / 2 + 1, plane.width);
  if (!half_height) return {.x = left, .y = luma.y, .width = right - left, .height = luma.height};
  const int top = std::max(luma.y / 2 - 1, 0), bottom = std::min((luma.y + luma.height) / 2 + 1, plane.height);
  return {.x = left, .y = top, .width = right - left, .height = bottom - top};
}

}  // namespace

bool all_equal(const Picture& picture, const Rect& rect) {
  const PictureFormat& f = picture.format;
  if (!equal_samples(f, picture.planes[0], rect)) return false;
  for (int p = 1; p < 3 && f.chroma != Chroma::grey; ++p)
    if (!equal_samples(f, picture.planes[p], chroma_rect(f, picture.planes[p], rect))) return false;
  return true;
}

RectFigures measure_flat(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally) {
  const auto rgb = plan.decoder.light(samples_at(picture, rect.x, rect.y));
  const double luminance = plan.decoder.xyz(rgb).Y, m = max_rgb(rgb);
  const std::int64_t pixels = rect.pixels();
  const auto n = static_cast<double>(pixels);
  tally.histogram.add(saturated(luminance), static_cast<std::uint32_t>(pixels));
  for (std::size_t i = 0; i < kAboveCdm2.size(); ++i) tally.above[i] += luminance > kAboveCdm2[i] ? pixels : 0;
  for (std::size_t i = 0; i < kBelowCdm2.size(); ++i) tally.below[i] += luminance < kBelowCdm2[i] ? pixels : 0;
  if (plan.bt709.needed && plan.bt709.outside(rgb)) tally.outside_bt709 += pixels;
  if (plan.p3.needed && plan.p3.outside(rgb)) tally.outside_p3 += pixels;
  return {.r = n * rgb.r,
          .g = n * rgb.g,
          .b = n * rgb.b,
          .max_rgb = n * m,
          .max_rgb_max = m,
          .luminance_max = luminance,
          .luminance_min = luminance,
          .square_bound = m,
          .flat = true};
}

}  // namespace provenit::programme::kernel
