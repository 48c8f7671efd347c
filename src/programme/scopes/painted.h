#pragma once
// What views of the picture itself share: points made in parallel, and marks that are told apart without colour.
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>

#include "page.h"

namespace provenit::programme::drawing {

/// A picture whose point i is ink_of(i), made in parallel.
template <class InkOf>
Drawing painted(const Fit& f, InkOf ink_of) {
  Drawing d{.width = f.width, .height = f.height};
  const std::size_t points = static_cast<std::size_t>(f.width) * static_cast<std::size_t>(f.height);
  d.samples.resize(3 * points);
  tbb::parallel_for(tbb::blocked_range<std::size_t>(0, points, 4096),
                    [&](const tbb::blocked_range<std::size_t>& range) {
                      for (std::size_t i = range.begin(); i < range.end(); ++i) {
                        const Ink colour = ink_of(i);
                        std::ranges::copy(colour, d.samples.begin() + static_cast<std::ptrdiff_t>(3 * i));
                      }
                    });
  return d;
}

[[nodiscard]] inline double luminance(const LightImage& image, const colour::AbsoluteRgb<>& c) {
  return image.to_xyz(1, 0) * c.r + image.to_xyz(1, 1) * c.g + image.to_xyz(1, 2) * c.b;
}

/// Diagonal stripes and a lattice of dots: told apart without colour.
[[nodiscard]] inline bool striped(int x, int y) {
  return (x + y) % 10 < 5;
}
[[nodiscard]] inline bool dotted(int x, int y) {
  const int u = x % 8 - 4, v = y % 8 - 4;
  return u * u + v * v <= 7;
}

/// A quiet grey picture under marks: half the signal, so that white marks stand out.
[[nodiscard]] Drawing quiet_grey(const LightImage& image, const Fit& fit, double source_peak_cdm2);
/// The most that any pixel of a point needs.
[[nodiscard]] GamutNeed worst(const LightImage& image, const Fit& f, int x, int y);

}  // namespace provenit::programme::drawing
