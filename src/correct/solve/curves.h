#pragma once
#include <vector>

#include "goal.h"

namespace provenit::correct::solving {

/// One curve per channel that makes greys right.
[[nodiscard]] Lut1d grey_curves(const Goal& goal, int entries);
/// Curves to light, matrix, curves back.
[[nodiscard]] std::vector<Stage> curves_and_matrix(const Goal& goal, int entries);

}  // namespace provenit::correct::solving
