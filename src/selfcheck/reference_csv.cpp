#include "reference_csv.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "provenit/base/text.h"
#include "selfcheck_assets.h"
#include "tolerance.h"

namespace provenit::selfcheck {
namespace {

/// "# ...; source ISO/CIE 11664-1:2019 (...), 360-830 nm; facts ..." gives "ISO/CIE 11664-1:2019 (...), 360-830 nm"; a
/// comment that marks no source names it at its head.
std::string source_in(std::string_view comment) {
  constexpr std::string_view mark = "source ";
  if (const auto from = comment.find(mark); from != std::string_view::npos) {
    comment.remove_prefix(from + mark.size());
    return std::string(comment.substr(0, comment.find(';')));
  }
  return std::string(trim(comment.substr(1, comment.find("; wavelength") - 1)));
}

}  // namespace

double ReferenceCsv::Line::at(std::size_t column) const {
  if (column >= cells.size()) return std::numeric_limits<double>::quiet_NaN();
  return parse_double(cells[column]).value_or(std::numeric_limits<double>::quiet_NaN());
}

std::size_t ReferenceCsv::column(std::string_view name) const {
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
}

ReferenceCsv reference_csv(std::string_view file) {
  ReferenceCsv csv{.file = std::string(file), .source = {}, .names = {}, .lines = {}};
  int number = 0;
  for (const auto line : split(find_selfcheck_asset(fmt::format("/{}", file)), '\n')) {
    ++number;
    if (trim(line).empty()) continue;
    if (line.front() == '#') {
      csv.source = source_in(line);
      continue;
    }
    const auto cells = split(line, ',');
    if (csv.names.empty())
      csv.names.assign(cells.begin(), cells.end());
    else
      csv.lines.push_back({number, {cells.begin(), cells.end()}});
  }
  return csv;
}

Row reference_row(const ReferenceCsv& csv, const ReferenceCsv::Line* line, std::string id, std::string quantity,
                  std::vector<double> expected, std::vector<double> got, std::string tolerance) {
  const auto limit = parse_tolerance(tolerance).value_or(Tolerance{});
  const TableRow row{
      line == nullptr ? 0 : line->number, std::move(id), std::move(quantity), {}, {}, std::move(tolerance), csv.source};
  return compared(row, csv.file, std::move(expected), std::move(got), limit);
}

Report check_built_in() {
  auto report = check_table(built_in_table(), "worked_values.csv").value_or(Report{});
  check_compiled_tables(report.rows);
  check_spectral_tables(report.rows);
  check_colour_tables(report.rows);
  return report;
}

}  // namespace provenit::selfcheck
