#include "kernel/read_ahead.h"

#include <algorithm>

namespace provenit::programme::kernel {
namespace {

constexpr std::ptrdiff_t kLine = 64;

void read_rows(const Plane& plane, std::ptrdiff_t row_bytes, int first, int last) {
  unsigned sum = 0;
  for (int y = first; y < std::min(last, plane.height); ++y) {
    const std::byte* row = plane.data + y * plane.stride;
    for (std::ptrdiff_t i = 0; i < row_bytes; i += kLine) sum += std::to_integer<unsigned>(row[i]);
  }
  // The sum is not wanted, but the reads are.
  [[maybe_unused]] const volatile unsigned sink = sum;
}

}  // namespace

void read_ahead(const Picture& picture, int first, int last) {
  const PictureFormat& f = picture.format;
  const std::ptrdiff_t bytes = f.is_float ? 4 : f.bits == 8 ? 1 : 2;
  const int step = f.chroma == Chroma::c420 ? 2 : 1;
  read_rows(picture.planes[0], picture.planes[0].width * bytes, first, last);
  if (f.chroma == Chroma::grey) return;
  for (int p = 1; p < 3; ++p)
    read_rows(picture.planes[p], picture.planes[p].width * bytes, first / step, (last + step - 1) / step);
}

}  // namespace provenit::programme::kernel
