#pragma once
// What the smallest and largest codes of a rectangle say of all its pixels.
#include "kernel/plan.h"

namespace provenit::programme::kernel {

struct Codes {
  int low = 0, high = 0;
};

struct Span {
  const LocalFit* fit = nullptr;  ///< the curve for all channels of all of its pixels, if one holds them
  bool inside_bt709 = false;      ///< none of its pixels is outside
};

/// Of pixels whose luma and chroma codes, those that chroma is interpolated from included, lie in these.
[[nodiscard]] Span span_of(const VectorConstants& constants, const Codes& luma, const Codes& cb, const Codes& cr);

}  // namespace provenit::programme::kernel
