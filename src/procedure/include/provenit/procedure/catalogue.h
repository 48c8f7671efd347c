#pragma once
// The quantities a finding can be about: one table, from which procedures, questions, evaluation and report take names,
// units and the words for people. Questions that name another quantity are refused.
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace provenit::procedure {

struct Quantity {
  std::string_view key;         ///< "peak_luminance"
  std::string_view title;       ///< "Peak luminance"
  std::string_view unit;        ///< "cd/m2", "1" for ratios and differences, "%", "K", "s"
  std::string_view procedure;   ///< the procedure whose run answers it
  std::string_view conditions;  ///< keys a finding carries, comma separated: "window_percent"; empty if none
  std::string_view meaning;     ///< one sentence with the definition
};

[[nodiscard]] std::span<const Quantity> catalogue();
/// nullptr if the key is not in the catalogue.
[[nodiscard]] const Quantity* find_quantity(std::string_view key);

}  // namespace provenit::procedure
