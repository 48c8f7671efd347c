#pragma once
// The quantities a finding can be about: one table, from which procedures, questions, evaluation and report take names,
// units and the words for people. Questions that name another quantity are refused.
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/signal/signal.h"

namespace provenit::procedure {

struct Quantity {
  std::string_view key;         ///< "peak_luminance"
  std::string_view title;       ///< "Peak luminance"
  std::string_view unit;        ///< "cd/m2", "1" for ratios and differences, "%", "K", "s"
  std::string_view procedure;   ///< the procedure whose run answers it, or the recording (recording.h)
  std::string_view conditions;  ///< keys a finding carries, comma separated: "window_percent"; empty if none
  std::string_view meaning;     ///< one sentence with the definition
};

[[nodiscard]] std::span<const Quantity> catalogue();
/// nullptr if the key is not in the catalogue.
[[nodiscard]] const Quantity* find_quantity(std::string_view key);
/// The keys of Quantity::conditions, one by one.
[[nodiscard]] std::vector<std::string> condition_keys(const Quantity& quantity);
/// Every procedure whose run the quantity needs: its own, and for sequential contrast the window's peak, for targets
/// that depend on the display's own peak and black (HLG, BT.1886) those runs too.
[[nodiscard]] std::vector<std::string> required_procedures(const Quantity& quantity, signal::Transfer transfer);

}  // namespace provenit::procedure
