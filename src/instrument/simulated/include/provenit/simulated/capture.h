#pragma once
// What a processing chain does to a picture before somebody captures it: chroma carried at less resolution, scaling
// with a known kernel, noise, rounding.
#include <cstdint>
#include <functional>
#include <vector>

#include "provenit/signal/test_picture.h"

namespace provenit::simulated {

/// R', G', B' of each pixel, row by row.
struct Frame {
  int width = 0, height = 0;
  std::vector<double> rgb;
};

/// The picture's codes as they are.
[[nodiscard]] Frame frame_of(const signal::TestPicture& picture, int frame = 0);

enum class ChromaFilter {
  drop,   ///< every other sample taken, repeated
  box,    ///< mean of two, repeated
  linear  ///< 1 2 1 at the sample taken (co-sited), linear between
};
/// Chroma (B' - Y', R' - Y' by the container's luminance weights) at half resolution across and down as asked.
[[nodiscard]] Frame with_chroma_halved(Frame frame, const signal::Encoding& encoding, bool across, bool down,
                                       ChromaFilter filter);

/// Interpolation kernels over distance in source pixels.
enum class Kernel { nearest, bilinear, bicubic, lanczos3 };
/// bicubic: Keys, a = -1/2. source  Keys, IEEE Trans. ASSP 29 (1981) 1153 (from memory)
[[nodiscard]] double weight(Kernel kernel, double distance);
/// Enlarged by whole or broken factors >= 1, centres of pixels mapped; edges repeated.
[[nodiscard]] Frame enlarged(const Frame& frame, int width, int height, Kernel kernel);

/// Noise on each value, then rounded to whole codes and held in [0, highest].
[[nodiscard]] Frame captured(Frame frame, double noise, int highest, std::uint64_t seed);

}  // namespace provenit::simulated
