#pragma once
// Numbers as instruments, files and people write them, independent of locale. Private to the library.
#include <optional>
#include <string_view>

namespace provenit::instrument {

/// Takes the longest decimal number at the front of `text` ("-1.5", "+1.0E+02", ".5") and removes it; with
/// `decimal_comma`, "1,5". nullopt, and `text` unchanged, if there is none or if a double cannot hold it.
[[nodiscard]] std::optional<double> take_number(std::string_view& text, bool decimal_comma = false);

/// How one cell writes its decimals.
enum class DecimalMark { none, point, comma };
struct NumberCell {
  double value = 0;
  DecimalMark mark = DecimalMark::none;
};
/// Whole text as one number, with whichever decimal mark it has. nullopt for anything else: two marks, thousands, NaN.
[[nodiscard]] std::optional<NumberCell> parse_cell(std::string_view text);

}  // namespace provenit::instrument
