#pragma once
// The table as text: rows, columns, and the inputs of a row.
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::selfcheck {

/// A row as it stands in the file.
struct TableRow {
  int line = 0;
  std::string id, quantity, inputs, expected, tolerance, source;
};

struct Table {
  std::vector<TableRow> rows;
  std::vector<Error>
      errors;  ///< rows that are no rows: not UTF-8, wrong number of fields, open quote, no id, id used twice
};

/// Errors: invalid_input if there is no header row, or it lacks a column or has one twice or an unknown one.
[[nodiscard]] Result<Table> read_table(std::string_view text, const std::string& file);

/// What stands in the inputs column: key=value pairs, and notes that have no "=".
struct Inputs {
  std::vector<std::pair<std::string, std::string>> values;
  std::vector<std::string> notes;
};

/// Inputs of a row with "as ID" followed through; errors name the column, the caller knows file and line.
[[nodiscard]] Result<Inputs> inputs_of(const Table& table, const TableRow& row);

}  // namespace provenit::selfcheck
