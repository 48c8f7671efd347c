#pragma once
#include <fmt/format.h>

#include "provenit/correct/lut.h"

namespace provenit::correct {

/// Errors: out_of_range for a 3D table of so many nodes along an axis.
[[nodiscard]] inline Result<void> nodes_allowed(int size) {
  if (size >= kSmallestTable && size <= kLargest3d) return {};
  return fail(ErrorCode::out_of_range, fmt::format("a 3D table of {} nodes along an axis cannot be made", size),
              fmt::format("Use {} to {}.", kSmallestTable, kLargest3d));
}
/// Errors: out_of_range for a 1D table of so many entries.
[[nodiscard]] inline Result<void> entries_allowed(int entries) {
  if (entries >= kSmallestTable && entries <= kLargest1d) return {};
  return fail(ErrorCode::out_of_range, fmt::format("a 1D table of {} entries cannot be made", entries),
              fmt::format("Use {} to {}.", kSmallestTable, kLargest1d));
}

}  // namespace provenit::correct
