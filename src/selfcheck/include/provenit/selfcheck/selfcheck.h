#pragma once
// Published check values against this build. A table names quantities, inputs, expected values and tolerances; each row
// is computed with the same functions as every finding, and compared.
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::selfcheck {

enum class Verdict { pass, fail };
[[nodiscard]] const char* name_of(Verdict verdict);

/// One computed row.
struct Row {
  std::string file;  ///< table it stands in
  int line = 0;      ///< 1 for the first line; 0 for a check over a whole table
  std::string id, quantity;
  std::vector<double> expected, got;
  double error = 0;       ///< largest of the components, absolute or, for rel tolerances, relative (may be infinite)
  std::string tolerance;  ///< as the table has it: "abs:1e-9", "rel:1e-4", "exact"
  std::string source;
  Verdict verdict = Verdict::fail;
};

struct Report {
  std::vector<Row> rows;      ///< in the order of the tables; a row that could not be computed is in `errors` instead
  std::vector<Error> errors;  ///< each with file, line and the column or key that is wrong

  [[nodiscard]] int count(Verdict verdict) const;
  /// Every row could be computed and passed, and there was at least one.
  [[nodiscard]] bool all_pass() const;
};

/// Checks a table in the form of data/reference/worked_values.csv.
///   `#` lines       comments; blank lines are passed over
///   header row      required: id, quantity, inputs, expected, tolerance, source, in any order
///   inputs          key=value parted by ";"; vectors parted by blanks; numbers may be fractions ("1/12");
///                   "as ID" first takes over the inputs of that row, further keys replace its own
///   expected        one number, or as many as the quantity has components
///   tolerance       abs:x or rel:x for every component, or exact
/// Fields may be quoted as RFC 4180 has it. Keys and notes that the quantity does not know are errors: a misspelt key
/// must not pass for a default.
/// errors  invalid_input if there is no usable header row. Everything about a single row (unknown quantity, missing or
///         unknown key, no number, wrong number of components, ...) is in Report::errors, and the other rows still run
[[nodiscard]] Result<Report> check_table(std::string_view csv_text, const std::string& file_name);

/// The names of the quantities that check_table computes, sorted.
[[nodiscard]] std::vector<std::string_view> quantities();

/// The embedded data/reference/worked_values.csv.
[[nodiscard]] std::string_view built_in_table();

/// The built-in table and every other table of data/reference: compiled-in tables equal their files, CIEDE2000 pairs of
/// Sharma et al., the surface chart's D65 columns by CAT16 and its smallest gamuts, D65 from the daylight components,
/// V = y bar, cone fundamentals to CIE 2015 functions, the isotemperature lines, Munsell values of the test samples.
[[nodiscard]] Report check_built_in();

/// Columns id, quantity, expected, got, error, tolerance, verdict, source, then the errors and a line of counts.
/// failures_only leaves out the rows that pass.
[[nodiscard]] std::string text_of(const Report& report, bool failures_only = false);

/// {"rows": [{file, line, id, quantity, expected, got, error, tolerance, source, verdict}], "errors": [{code, message,
/// advice, file, line, field}], "passed": n, "failed": n, "not_computed": n}; an infinite error is null.
[[nodiscard]] nlohmann::ordered_json json_of(const Report& report);

}  // namespace provenit::selfcheck
