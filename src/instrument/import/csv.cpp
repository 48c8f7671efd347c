// CSV with named columns and stated units. The form is ours: docs/import.md.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "import/delimited.h"
#include "import/table.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr std::size_t kMostColumns = 10000;

/// "Y (cd/m2)" in its parts.
struct Heading {
  std::string name, unit;
};

Heading heading_of(std::string_view text) {
  text = trim(text);
  const auto open = text.find('(');
  if (open == std::string_view::npos || !text.ends_with(')')) return {std::string(text), {}};
  return {std::string(trim(text.substr(0, open))), std::string(trim(text.substr(open + 1, text.size() - open - 2)))};
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (auto& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

struct Name {
  std::string_view name;
  Role role;
};

Role role_of(std::string_view name) {
  // X and x, Y and y differ by case alone; the words do not.
  constexpr std::array exact{Name{"X", Role::X},        Name{"Y", Role::Y},      Name{"Z", Role::Z},
                             Name{"x", Role::x},        Name{"y", Role::y},      Name{"u'", Role::u_prime},
                             Name{"v'", Role::v_prime}, Name{"R", Role::r_code}, Name{"G", Role::g_code},
                             Name{"B", Role::b_code}};
  constexpr std::array words{Name{"sample", Role::sample}, Name{"name", Role::sample}, Name{"step", Role::step},
                             Name{"time", Role::time}, Name{"integration", Role::integration}};
  for (const auto& n : exact)
    if (n.name == name) return n.role;
  const auto small = lower(name);
  for (const auto& n : words)
    if (n.name == small) return n.role;
  return Role::unused;
}

/// "380 nm" or "380.5nm".
std::optional<double> wavelength_of(std::string_view name) {
  if (!name.ends_with("nm")) return std::nullopt;
  const auto cell = parse_cell(name.substr(0, name.size() - 2));
  if (!cell || !(cell->value > 0 && cell->value < 10000)) return std::nullopt;
  return cell->value;
}

struct UnitRule {
  std::string_view unit;
  double factor;
  bool relative;
};
using Units = std::vector<UnitRule>;

/// Units a role may have; empty: none is needed and any stated one is refused unless it is "1".
const Units& units_of(Role role) {
  static const Units light{{"cd/m2", 1, false},
                           {"cd/m\u00b2", 1, false},
                           {"mcd/m2", 1e-3, false},
                           {"fL", 3.4262590996353906, false},
                           {"relative", 1, true}};
  static const Units radiance{{"W/(sr m2 nm)", 1, false}, {"mW/(sr m2 nm)", 1e-3, false}, {"relative", 1, true}};
  static const Units span{{"s", 1, false}, {"ms", 1e-3, false}};
  static const Units code{{"code", 1, false}};
  static const Units ratio{{"1", 1, false}, {"", 1, false}};
  static const Units none{{"", 1, false}};
  switch (role) {
    case Role::X:
    case Role::Y:
    case Role::Z:
      return light;
    case Role::spectral:
      return radiance;
    case Role::integration:
      return span;
    case Role::r_code:
    case Role::g_code:
    case Role::b_code:
      return code;
    case Role::x:
    case Role::y:
    case Role::u_prime:
    case Role::v_prime:
      return ratio;
    default:
      return none;
  }
}

std::string unit_choice(Role role) {
  std::string out;
  for (const auto& u : units_of(role))
    if (!u.unit.empty() && u.unit != "cd/m\u00b2") out += (out.empty() ? "" : ", ") + std::string(u.unit);
  return out;
}

bool is_light(Role role) {
  return role == Role::X || role == Role::Y || role == Role::Z;
}

/// What the options state for a column that states nothing.
std::string stated_unit(Role role, const ImportOptions& o) {
  if (is_light(role) && o.scale == ValueScale::absolute) return "cd/m2";
  if (is_light(role) && o.scale == ValueScale::relative) return "relative";
  if (role == Role::spectral) {
    if (o.spectral_unit == SpectralUnit::w_per_sr_m2_nm) return "W/(sr m2 nm)";
    if (o.spectral_unit == SpectralUnit::mw_per_sr_m2_nm) return "mW/(sr m2 nm)";
    if (o.spectral_unit == SpectralUnit::relative) return "relative";
  }
  const bool code = role == Role::r_code || role == Role::g_code || role == Role::b_code;
  return code && o.rgb_fields_are_codes ? "code" : "";
}

/// A file that says one thing and options that say another: somebody is wrong.
Result<void> check_against_options(const Column& column, const std::string& unit, int line, const ImportOptions& o) {
  const auto stated = stated_unit(column.role, o);
  const bool light_clash = is_light(column.role) && !stated.empty() && column.relative != (stated == "relative");
  const bool spectral_clash = column.role == Role::spectral && !stated.empty() && stated != unit;
  if (!light_clash && !spectral_clash) return {};
  return bad_file(o, line, column.heading,
                  fmt::format("the file states the unit '{}', the options state '{}'", escaped(unit), stated),
                  "Leave the option out, or correct the heading.");
}

Result<void> set_unit(Column& column, std::string unit, int line, const ImportOptions& o) {
  if (column.role == Role::unused || column.role == Role::sample || column.role == Role::step) return {};
  if (unit.empty()) unit = stated_unit(column.role, o);
  const auto& units = units_of(column.role);
  const auto found = std::ranges::find(units, std::string_view(unit), &UnitRule::unit);
  if (found != units.end()) {
    column.factor = found->factor;
    column.relative = found->relative;
    return check_against_options(column, unit, line, o);
  }
  const auto name = heading_of(column.heading).name;
  const auto choice = unit_choice(column.role);
  const auto message = unit.empty() ? std::string("the column states no unit")
                                    : fmt::format("'{}' is no unit of this column", escaped(unit));
  if (choice.empty()) return bad_file(o, line, column.heading, message, fmt::format("Write '{}' alone.", name));
  return bad_file(
      o, line, column.heading, message,
      fmt::format("Write '{} ({})' in the heading, with one of: {}.", name,
                  column.role == Role::spectral ? "W/(sr m2 nm)" : choice.substr(0, choice.find(',')), choice));
}

bool is_unit(std::string_view text) {
  for (const auto role : {Role::X, Role::spectral, Role::integration, Role::r_code, Role::x})
    for (const auto& u : units_of(role))
      if (!u.unit.empty() && u.unit == text) return true;
  return text == "nm";
}

bool is_blank_record(const Record& r) {
  return std::ranges::all_of(r.cells, [](const std::string& c) { return c.empty(); });
}

struct Lines {
  std::vector<Record> records;  ///< heading first; comments and blank lines left out
  char separator = ',';
};

/// Takes the comment lines and blank lines that may stand before the heading.
void skip_comments(std::string_view& bytes, int& line) {
  for (;;) {
    const auto end = std::min(bytes.find_first_of("\r\n"), bytes.size());
    const auto text = trim(bytes.substr(0, end));
    if (end == bytes.size() && !text.starts_with('#')) return;
    if (!text.empty() && !text.starts_with('#')) return;
    bytes.remove_prefix(end);
    if (bytes.empty()) return;
    bytes.remove_prefix(bytes.starts_with("\r\n") ? 2 : 1);
    ++line;
  }
}

char separator_of(std::string_view bytes, const ImportOptions& o) {
  if (o.separator) return *o.separator;
  const auto heading = bytes.substr(0, bytes.find_first_of("\r\n"));
  if (heading.find('\t') != std::string_view::npos) return '\t';
  return heading.find(';') != std::string_view::npos ? ';' : ',';
}

Result<Lines> records_of(std::string_view bytes, const ImportOptions& o) {
  int line = 1;
  skip_comments(bytes, line);
  Lines out{{}, separator_of(bytes, o)};
  while (!bytes.empty()) {
    auto record = take_record(bytes, out.separator, line);
    if (record.problem.starts_with("a quote is opened"))
      return bad_file(o, record.line, "", record.problem, "Close it, or double a quote that is meant.");
    if (record.cells.size() > kMostColumns)
      return bad_file(o, record.line, "", fmt::format("the line has more than {} cells", kMostColumns),
                      "Check the separator.");
    if (!is_blank_record(record)) out.records.push_back(std::move(record));
  }
  return out;
}

Row row_of(Record record) {
  Row row{record.line, {}, std::move(record.raw)};
  for (auto& cell : record.cells) row.cells.push_back({std::move(cell), record.line});
  return row;
}

/// A row with the wrong number of cells, or broken quotes, as an error.
std::optional<Error> row_problem(const Record& r, std::size_t columns, const ImportOptions& o) {
  Error error{ErrorCode::invalid_input, r.problem, "Double a quote that is meant.", {.file = o.file, .line = r.line}};
  if (!r.problem.empty()) return error;
  if (r.cells.size() == columns) return std::nullopt;
  error.message = fmt::format("the line has {} cells, the heading {}", r.cells.size(), columns);
  error.advice = "Write one cell for each column; an empty one between two separators.";
  return error;
}

Result<TextTable> rows_table(Lines lines, const ImportOptions& o, ImportReport& report) {
  TextTable table;
  table.commas_may_be_decimal = lines.separator != ',';
  const Record heading = lines.records.front();
  std::size_t begin = 1;
  const bool unit_row =
      lines.records.size() > 1 && lines.records[1].cells.size() == heading.cells.size() &&
      std::ranges::all_of(lines.records[1].cells, [](const auto& c) { return c.empty() || is_unit(c); });
  if (unit_row) begin = 2;
  for (std::size_t i = 0; i < heading.cells.size(); ++i) {
    auto [name, unit] = heading_of(heading.cells[i]);
    Column column{.role = role_of(name), .heading = heading.cells[i]};
    if (const auto wavelength = wavelength_of(name)) {
      column.role = Role::spectral;
      column.wavelength_nm = *wavelength;
    }
    if (unit.empty() && unit_row) unit = lines.records[1].cells[i];
    if (auto set = set_unit(column, unit, heading.line, o); !set) return tl::unexpected(set.error());
    if (column.role == Role::unused && !trim(column.heading).empty())
      report.remarks.push_back({ErrorCode::invalid_input,
                                "the column has no meaning here and is not used",
                                {},
                                {.file = o.file, .line = heading.line, .field = column.heading}});
    table.columns.push_back(std::move(column));
  }
  for (std::size_t i = begin; i < lines.records.size(); ++i) {
    if (auto problem = row_problem(lines.records[i], table.columns.size(), o))
      table.refused.push_back(std::move(*problem));
    else
      table.rows.push_back(row_of(std::move(lines.records[i])));
  }
  return table;
}

/// Samples as columns, one wavelength per line: turned into rows.
Result<TextTable> columns_table(const Lines& lines, const ImportOptions& o) {
  TextTable table;
  table.commas_may_be_decimal = lines.separator != ',';
  const Record& heading = lines.records.front();
  table.columns.push_back({.role = Role::sample, .heading = "sample"});
  for (std::size_t s = 1; s < heading.cells.size(); ++s) {
    const auto name = heading_of(heading.cells[s]).name;
    table.rows.push_back({heading.line, {{name, heading.line}}, "column " + heading.cells[s]});
  }
  if (heading.cells.size() < 2)
    return bad_file(o, heading.line, heading.cells[0], "no sample stands beside the wavelength",
                    "Give each sample a column, e.g. 'red (W/(sr m2 nm))'.");
  if (heading_of(heading.cells[0]).unit != "nm")
    return bad_file(o, heading.line, heading.cells[0], "the wavelength states no unit, or not nm",
                    "Write 'wavelength (nm)'.");
  for (std::size_t i = 1; i < lines.records.size(); ++i) {
    const Record& r = lines.records[i];
    if (auto problem = row_problem(r, heading.cells.size(), o)) return tl::unexpected(*problem);
    const auto wavelength = parse_cell(r.cells[0]);
    if (!wavelength || (wavelength->mark == DecimalMark::comma && !table.commas_may_be_decimal))
      return bad_file(o, r.line, heading.cells[0], fmt::format("'{}' is no wavelength", r.cells[0]),
                      "Give it in nm, as a number.");
    table.columns.push_back(
        {.role = Role::spectral, .heading = r.cells[0] + " nm", .wavelength_nm = wavelength->value});
    for (std::size_t s = 1; s < r.cells.size(); ++s) table.rows[s - 1].cells.push_back({r.cells[s], r.line});
  }
  // One unit for the whole table: the columns are wavelengths now, and a row has none of its own.
  for (std::size_t s = 1; s < heading.cells.size(); ++s) {
    Column probe{.role = Role::spectral, .heading = heading.cells[s]};
    if (auto set = set_unit(probe, heading_of(heading.cells[s]).unit, heading.line, o); !set)
      return tl::unexpected(set.error());
    for (std::size_t c = 1; c < table.columns.size(); ++c) {
      if (s > 1 && (table.columns[c].factor != probe.factor || table.columns[c].relative != probe.relative))
        return bad_file(o, heading.line, heading.cells[s], "the columns state different units",
                        "Give all spectra in one unit.");
      table.columns[c].factor = probe.factor;
      table.columns[c].relative = probe.relative;
    }
  }
  return table;
}

}  // namespace

Result<std::vector<TextTable>> read_csv(std::string_view bytes, const ImportOptions& options, ImportReport& report) {
  auto lines = records_of(bytes, options);
  if (!lines) return tl::unexpected(lines.error());
  if (lines->records.empty())
    return bad_file(options, -1, "", "the file holds no heading",
                    "Begin it with a line such as: sample, Y (cd/m2), x, y");
  const auto& heading = lines->records.front();
  if (!heading.problem.empty())
    return bad_file(options, heading.line, "", heading.problem, "Double a quote that is meant.");
  auto table = lower(heading_of(heading.cells[0]).name) == "wavelength"
                   ? columns_table(*lines, options)
                   : rows_table(std::move(*lines), options, report);
  if (!table) return tl::unexpected(table.error());
  std::vector<TextTable> out;
  out.push_back(std::move(*table));
  return out;
}

}  // namespace provenit::instrument
