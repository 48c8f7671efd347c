#pragma once
// Extremes to the last bit: the level's arithmetic says which pixels may hold them, double precision decides.
#include "kernel/level.h"

namespace provenit::programme::kernel {

/// Fills max_rgb_max and its first place, luminance_max and luminance_min.
void fill_extremes(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch,
                   FrameFigures& figures);

/// Fills max_rgb_robust.
void fill_robust(const Plan& plan, const Level& level, const Picture& picture, Scratch& scratch, FrameFigures& figures);

}  // namespace provenit::programme::kernel
