#pragma once
// A table's column as a spectrum, and the error for a name that no table has.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <vector>

#include "provenit/colour/spectrum.h"
#include "tables/tables.h"

namespace provenit::colour::tables {

inline Spectrum spectrum_of(const Table& table, int column) {
  Spectrum out{table.start_nm, table.step_nm, std::vector<double>(static_cast<std::size_t>(table.rows))};
  for (int row = 0; row < table.rows; ++row) out.values[row] = table.at(row, column);
  return out;
}

inline tl::unexpected<Error> no_such_column(std::string_view kind, std::string_view name,
                                            const std::vector<std::string_view>& known) {
  return fail(ErrorCode::not_found, fmt::format("no {} is named '{}'", kind, name),
              fmt::format("Known: {}.", fmt::join(known, ", ")));
}

}  // namespace provenit::colour::tables
