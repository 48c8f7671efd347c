#pragma once
#include "provenit/programme/picture.h"

namespace provenit::programme::kernel {

/// Brings the samples of luma rows [first, last) near, in the order they lie in memory. Cells jump from row to row,
/// which memory serves several times more slowly than a straight read.
void read_ahead(const Picture& picture, int first, int last);

}  // namespace provenit::programme::kernel
