#pragma once
// Enumerators and the names they have in files and on the command line: a table of rows with `value` and `name`.
#include <cstddef>
#include <optional>
#include <string_view>

namespace provenit {

template <class E>
struct Named {
  E value;
  const char* name;
};

/// The row of an enumerator. Every enumerator must have one; the first row stands in for a missing one.
template <class Row, std::size_t n, class E>
[[nodiscard]] constexpr const Row& row_of(const Row (&table)[n], E value) {
  for (const auto& row : table)
    if (row.value == value) return row;
  return table[0];
}

/// The enumerator of a name; nullopt for any other text.
template <class Row, std::size_t n>
[[nodiscard]] constexpr auto value_of(const Row (&table)[n], std::string_view name)
    -> std::optional<decltype(table[0].value)> {
  for (const auto& row : table)
    if (row.name == name) return row.value;
  return std::nullopt;
}

}  // namespace provenit
