#pragma once
// Where the chroma of a luma sample comes from, and the exact numbers read there.
// source  ITU-T H.273, chroma sample location types 0 to 3
#include <array>
#include <cstdint>
#include <cstring>

#include "provenit/programme/picture.h"

namespace provenit::programme::kernel {

/// The two chroma samples along one axis and their weights in quarters, which sum to 4.
struct Taps {
  int first = 0, second = 0;
  int first_weight = 4, second_weight = 0;
  /// Of which both weights are multiples.
  [[nodiscard]] constexpr int greatest_common_weight() const {
    return second_weight == 0 ? first_weight : second_weight;
  }
};

/// How chroma lies along one axis: at full rate, or every other sample, at even luma samples or midway between two.
enum class Spacing { full, even, midway };

[[nodiscard]] constexpr Spacing horizontal_spacing(const PictureFormat& f) {
  if (f.chroma != Chroma::c420 && f.chroma != Chroma::c422) return Spacing::full;
  return f.siting == Siting::left || f.siting == Siting::top_left ? Spacing::even : Spacing::midway;
}
[[nodiscard]] constexpr Spacing vertical_spacing(const PictureFormat& f) {
  if (f.chroma != Chroma::c420) return Spacing::full;
  return f.siting == Siting::top || f.siting == Siting::top_left ? Spacing::even : Spacing::midway;
}

/// Taps of luma position `at` among `count` chroma samples; what lies beyond the last takes the last.
[[nodiscard]] constexpr Taps taps(Spacing spacing, int at, int count) {
  if (spacing == Spacing::full) return {.first = at, .second = at};
  const int block = at / 2;
  const bool odd = at % 2 != 0;
  if (spacing == Spacing::even && !odd) return {.first = block, .second = block};
  const int neighbour = odd ? block + 1 : block - 1;
  const int inside = neighbour < 0 ? 0 : neighbour >= count ? count - 1 : neighbour;
  if (spacing == Spacing::even) return {.first = block, .second = inside, .first_weight = 2, .second_weight = 2};
  return {.first = block, .second = inside, .first_weight = 3, .second_weight = 1};
}

/// What a pixel is made of, as whole numbers: Y' (or R') as it is; Cb and Cr in sixteenths of a code, interpolated (or
/// G' and B' times 16). Pixels of equal samples are equal in every figure. Floats: the bits of R, G, B.
struct Samples {
  std::array<std::int32_t, 3> value{};
  friend bool operator==(const Samples&, const Samples&) = default;
};

[[nodiscard]] inline std::int32_t sample_at(const PictureFormat& f, const Plane& plane, int x, int y) {
  const std::byte* row = plane.data + y * plane.stride;
  if (f.is_float) {
    std::int32_t bits = 0;
    std::memcpy(&bits, row + 4 * std::ptrdiff_t{x}, 4);
    return bits;
  }
  if (f.bits == 8) return static_cast<std::uint8_t>(row[x]);
  std::uint16_t wide = 0;
  std::memcpy(&wide, row + 2 * std::ptrdiff_t{x}, 2);
  return wide;
}

[[nodiscard]] inline std::int32_t chroma_at(const PictureFormat& f, const Plane& plane, const Taps& h, const Taps& v) {
  const auto row = [&](int y) {
    return h.first_weight * sample_at(f, plane, h.first, y) + h.second_weight * sample_at(f, plane, h.second, y);
  };
  return v.first_weight * row(v.first) + v.second_weight * row(v.second);
}

[[nodiscard]] inline Samples samples_at(const Picture& p, int x, int y) {
  const PictureFormat& f = p.format;
  const std::int32_t first = sample_at(f, p.planes[0], x, y);
  if (f.chroma == Chroma::grey) return {.value = {first, 0, 0}};
  if (f.is_float) return {.value = {first, sample_at(f, p.planes[1], x, y), sample_at(f, p.planes[2], x, y)}};
  const Taps h = taps(horizontal_spacing(f), x, p.planes[1].width),
             v = taps(vertical_spacing(f), y, p.planes[1].height);
  return {.value = {first, chroma_at(f, p.planes[1], h, v), chroma_at(f, p.planes[2], h, v)}};
}

}  // namespace provenit::programme::kernel
