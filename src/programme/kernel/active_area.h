#pragma once
#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme::kernel {

/// The smallest rectangle outside which every pixel is bar: luma (R'G'B': the largest; linear stills: the light) not
/// above the "slightly lighter" level of PLUGE, signal 16/876 (BT.814-4 Table 3). Looks only at bars and their edge.
[[nodiscard]] ActiveArea find_active_area(const Picture& picture);

}  // namespace provenit::programme::kernel
