#pragma once
#include "goal.h"

namespace provenit::correct::solving {

/// Moves the nodes of a table so that colours between them come out right, where straight lines between right nodes do
/// not: near black, and where a cell lies across the end of what the display can show. There it is the nodes beyond the
/// end that move; which colour those are mapped to changes a little for it.
/// in      mapped: which nodes had to be moved onto the gamut
/// source  Kaczmarz's method (1937), relaxed
void refine(Lut3d& table, const std::vector<char>& mapped, const Goal& goal);

}  // namespace provenit::correct::solving
