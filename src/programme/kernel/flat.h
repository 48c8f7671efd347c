#pragma once
#include "kernel/cells.h"
#include "kernel/level.h"

namespace provenit::programme::kernel {

/// Whether all pixels of the rectangle have the same samples, chroma that only touches them included.
[[nodiscard]] bool all_equal(const Picture& picture, const Rect& rect);

/// Figures of a rectangle whose pixels are all as its first: one pixel in double precision, many times.
[[nodiscard]] RectFigures measure_flat(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally);

}  // namespace provenit::programme::kernel
