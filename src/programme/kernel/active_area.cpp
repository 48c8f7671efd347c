#include "kernel/active_area.h"

#include <algorithm>
#include <cstdint>
#include <cstring>

#include "provenit/colour/transfer_pq.h"

namespace provenit::programme::kernel {
namespace {

constexpr double kBarSignal = 16.0 / 876;

/// Highest sample of a bar: a code; for linear stills a sample's value.
double highest_of_bar(const PictureFormat& f) {
  if (f.is_float) return colour::pq_eotf(colour::Signal<>{.value = kBarSignal}).cdm2 / f.peak_cdm2;
  const int step = 1 << (f.bits - 8);
  if (f.range == colour::Range::narrow) return 20 * step;  // 16 + 219 x 16/876 = 20 in 8 bits
  return (256 * step - 1) * kBarSignal;
}

/// Finds samples above the bar's level in the rows of one picture, whatever its samples are.
template <class T>
class Finder {
 public:
  explicit Finder(const Picture& picture)
      : picture_(picture),
        planes_(picture.format.chroma == Chroma::rgb ? 3 : 1),
        limit_(highest_of_bar(picture.format)) {}

  /// First column in [from, to) that is picture; `to` if there is none.
  [[nodiscard]] int first(int y, int from, int to) const {
    for (int p = 0; p < planes_; ++p) {
      int x = from;
      while (x + kChunk <= to && !chunk_lit(p, y, x)) x += kChunk;
      while (x < to && !lit(p, y, x)) ++x;
      to = x;
    }
    return to;
  }
  /// One past the last column in [from, to) that is picture; `from` if there is none.
  [[nodiscard]] int last(int y, int from, int to) const {
    for (int p = 0; p < planes_; ++p) {
      int x = to;
      while (x - kChunk >= from && !chunk_lit(p, y, x - kChunk)) x -= kChunk;
      while (x > from && !lit(p, y, x - 1)) --x;
      from = x;
    }
    return from;
  }

 private:
  static constexpr int kChunk = 64;

  [[nodiscard]] T sample(int plane, int y, int x) const {
    T value{};
    const Plane& p = picture_.planes[plane];
    std::memcpy(&value, p.data + y * p.stride + std::ptrdiff_t{x} * static_cast<std::ptrdiff_t>(sizeof(T)), sizeof(T));
    return value;
  }
  [[nodiscard]] bool lit(int plane, int y, int x) const { return static_cast<double>(sample(plane, y, x)) > limit_; }
  [[nodiscard]] bool chunk_lit(int plane, int y, int x) const {
    T largest{};
    for (int i = 0; i < kChunk; ++i) largest = std::max(largest, sample(plane, y, x + i));  // NaN is never larger
    return static_cast<double>(largest) > limit_;
  }

  const Picture& picture_;
  int planes_;
  double limit_;
};

template <class T>
ActiveArea find(const Picture& picture) {
  const Finder<T> finder(picture);
  const int width = picture.format.width, height = picture.format.height;
  int top = 0, bottom = height;
  while (top < height && finder.first(top, 0, width) == width) ++top;
  if (top == height) return {};
  while (finder.first(bottom - 1, 0, width) == width) --bottom;
  int left = width, right = 0;
  for (int y = top; y < bottom; ++y) {
    left = finder.first(y, 0, left);
    right = finder.last(y, right, width);
  }
  return {.left = left, .top = top, .width = right - left, .height = bottom - top};
}

}  // namespace

ActiveArea find_active_area(const Picture& picture) {
  if (picture.format.is_float) return find<float>(picture);
  return picture.format.bits == 8 ? find<std::uint8_t>(picture) : find<std::uint16_t>(picture);
}

}  // namespace provenit::programme::kernel
