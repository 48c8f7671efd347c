#pragma once
// How close is close enough, and a row held against it.
#include <optional>
#include <string>
#include <string_view>

#include "provenit/selfcheck/selfcheck.h"
#include "reader.h"

namespace provenit::selfcheck {

struct Tolerance {
  enum class Kind { absolute, relative, exact };
  Kind kind = Kind::exact;
  double value = 0;
};

/// "abs:1e-9", "rel:1e-4", "exact"; nullopt for anything else.
[[nodiscard]] std::optional<Tolerance> parse_tolerance(std::string_view text);

/// The row with its largest error and verdict; `got` has as many components as `expected`.
[[nodiscard]] Row compared(const TableRow& row, const std::string& file, Values expected, Values got,
                           const Tolerance& tolerance);

}  // namespace provenit::selfcheck
