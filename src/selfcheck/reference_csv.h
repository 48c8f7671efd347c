#pragma once
// The embedded tables of data/reference, as names and cells, and the rows that a check over one of them makes.
#include <string>
#include <string_view>
#include <vector>

#include "provenit/selfcheck/selfcheck.h"

namespace provenit::selfcheck {

struct ReferenceCsv {
  struct Line {
    int number = 0;
    std::vector<std::string> cells;
    [[nodiscard]] double at(std::size_t column) const;  ///< NaN if it is no number
  };
  std::string file;
  std::string source;  ///< what its first comment says of the source
  std::vector<std::string> names;
  std::vector<Line> lines;
  /// The column's number; names.size() if it has none of that name.
  [[nodiscard]] std::size_t column(std::string_view name) const;
};

/// The embedded file "cie_tcs.csv"; without lines if there is none.
[[nodiscard]] ReferenceCsv reference_csv(std::string_view file);

/// A row of the report about a line of the file (nullptr: about all of it). Values that are not finite fail.
[[nodiscard]] Row reference_row(const ReferenceCsv& csv, const ReferenceCsv::Line* line, std::string id,
                                std::string quantity, std::vector<double> expected, std::vector<double> got,
                                std::string tolerance);

// The checks, by what they are about; each adds its rows.
void check_compiled_tables(std::vector<Row>& rows);
void check_spectral_tables(std::vector<Row>& rows);
void check_colour_tables(std::vector<Row>& rows);

}  // namespace provenit::selfcheck
