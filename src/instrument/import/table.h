#pragma once
// What a CSV and a CGATS file have in common once they are taken apart: columns that have a meaning, and rows of text.
// Private to the library.
#include <string>
#include <string_view>
#include <vector>

#include "provenit/instrument/import.h"

namespace provenit::instrument {

enum class Role {
  unused,
  sample,
  step,
  X,
  Y,
  Z,
  x,
  y,
  u_prime,
  v_prime,
  r_code,
  g_code,
  b_code,
  time,
  integration,
  spectral
};

struct Column {
  Role role = Role::unused;
  std::string heading;       ///< as in the file, for messages
  double factor = 1;         ///< to cd/m2, s or W/(sr m2 nm); 1 for relative values
  bool relative = false;     ///< X, Y, Z and spectral only
  double wavelength_nm = 0;  ///< spectral only
};

struct Cell {
  std::string text;
  int line = 0;
};

struct Row {
  int line = 0;
  std::vector<Cell> cells;  ///< one per column
  std::string raw;
};

struct TextTable {
  std::vector<Column> columns;
  std::vector<Row> rows;
  std::vector<Error> refused;  ///< rows that do not even have the right number of cells
  bool commas_may_be_decimal = true;
};

/// Tables of the file, in order; remarks are added to `report`.
[[nodiscard]] Result<std::vector<TextTable>> read_csv(std::string_view bytes, const ImportOptions& options,
                                                      ImportReport& report);
[[nodiscard]] Result<std::vector<TextTable>> read_cgats(std::string_view bytes, const ImportOptions& options,
                                                        ImportReport& report);

/// Rows to readings, added to `report`, still in the file's scale. Returns whether that scale is relative. Errors:
/// those that spoil the whole table.
[[nodiscard]] Result<bool> add_readings(const TextTable& table, const ImportOptions& options, ImportReport& report);
/// Relative values to cd/m2, plausibility, repeats: once all rows are in.
[[nodiscard]] Result<void> finish_readings(const ImportOptions& options, bool relative, ImportReport& report);

[[nodiscard]] tl::unexpected<Error> bad_file(const ImportOptions& options, int line, std::string field,
                                             std::string message, std::string advice);

}  // namespace provenit::instrument
