#pragma once
// The quantities that a table may name.
#include <span>
#include <string_view>

#include "provenit/colour/transfer_hlg.h"
#include "reader.h"

namespace provenit::selfcheck {

struct Quantity {
  std::string_view name;
  Values (*compute)(Reader& in);
};

// One list per part of the field, each in a file of its own.
[[nodiscard]] std::span<const Quantity> transfer_quantities();
[[nodiscard]] std::span<const Quantity> code_quantities();
[[nodiscard]] std::span<const Quantity> space_quantities();
[[nodiscard]] std::span<const Quantity> gamut_quantities();
[[nodiscard]] std::span<const Quantity> spectral_quantities();

/// The nine entries, row by row or column by column.
[[nodiscard]] Values entries_of(const colour::Matrix3<>& m, bool row_major);

/// nullptr for an unknown name.
[[nodiscard]] const Quantity* quantity_named(std::string_view name);

/// The display an HLG row speaks of: L_W, L_B (0 if absent), gamma (a number, or "by L_W", also if absent).
[[nodiscard]] colour::HlgDisplay<> hlg_display_of(Reader& in);

}  // namespace provenit::selfcheck
