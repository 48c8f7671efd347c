#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "provenit/base/text.h"
#include "provenit/selfcheck/selfcheck.h"
#include "quantity.h"
#include "selfcheck_assets.h"
#include "tolerance.h"

namespace provenit::selfcheck {
namespace {

std::array<std::span<const Quantity>, 5> all_lists() {
  return {transfer_quantities(), code_quantities(), space_quantities(), gamut_quantities(), spectral_quantities()};
}

/// A row's error: the row named in the message, the table's file and line beside it.
Error in_row(Error error, const TableRow& row, const std::string& file) {
  error.message = fmt::format("row {}: {}", row.id, error.message);
  error.where.file = file;
  error.where.line = row.line;
  return error;
}

tl::unexpected<Error> bad_field(std::string field, std::string message, std::string advice) {
  return fail(ErrorCode::invalid_input, std::move(message), std::move(advice), {.field = std::move(field)});
}

Result<Row> check_row(const Table& table, const TableRow& row, const std::string& file) {
  const auto* quantity = quantity_named(row.quantity);
  if (quantity == nullptr)
    return bad_field("quantity", fmt::format("'{}' is no quantity of this table", row.quantity),
                     "Known: " + fmt::format("{}", fmt::join(quantities(), ", ")) + ".");
  const auto expected = parse_numbers(row.expected);
  if (!expected)
    return bad_field("expected", fmt::format("'{}' is not a list of numbers", row.expected),
                     "Give numbers parted by blanks.");
  const auto tolerance = parse_tolerance(row.tolerance);
  if (!tolerance)
    return bad_field("tolerance", fmt::format("'{}' is no tolerance", row.tolerance),
                     "Write abs:x, rel:x (x a number, 0 or more) or exact.");
  auto inputs = inputs_of(table, row);
  if (!inputs) return tl::unexpected(inputs.error());
  Reader reader(std::move(*inputs));
  const auto got = quantity->compute(reader);
  if (auto error = reader.error()) return tl::unexpected(*error);
  if (got.size() != expected->size())
    return bad_field("expected", fmt::format("{} components where the quantity has {}", expected->size(), got.size()),
                     fmt::format("Give {} numbers parted by blanks.", got.size()));
  if (!std::all_of(got.begin(), got.end(), [](double x) { return std::isfinite(x); }))
    return bad_field("inputs", "these inputs give no finite value", "Check them against the quantity's range.");
  return compared(row, file, *expected, got, *tolerance);
}

}  // namespace

std::optional<Tolerance> parse_tolerance(std::string_view text) {
  if (text == "exact") return Tolerance{Tolerance::Kind::exact, 0};
  const bool relative = text.starts_with("rel:");
  if (!relative && !text.starts_with("abs:")) return std::nullopt;
  const auto value = parse_double(text.substr(4));
  if (!value || *value < 0) return std::nullopt;
  return Tolerance{relative ? Tolerance::Kind::relative : Tolerance::Kind::absolute, *value};
}

Row compared(const TableRow& row, const std::string& file, Values expected, Values got, const Tolerance& tolerance) {
  double worst = 0;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    double error = std::abs(got[i] - expected[i]);
    if (tolerance.kind == Tolerance::Kind::relative && error > 0)
      error = expected[i] == 0 ? std::numeric_limits<double>::infinity() : error / std::abs(expected[i]);
    worst = std::max(worst, error);
  }
  return {
      file,           row.line, row.id,        row.quantity, std::move(expected),
      std::move(got), worst,    row.tolerance, row.source,   worst <= tolerance.value ? Verdict::pass : Verdict::fail};
}

const Quantity* quantity_named(std::string_view name) {
  for (const auto list : all_lists())
    for (const auto& quantity : list)
      if (quantity.name == name) return &quantity;
  return nullptr;
}

std::vector<std::string_view> quantities() {
  std::vector<std::string_view> names;
  for (const auto list : all_lists())
    for (const auto& quantity : list) names.push_back(quantity.name);
  std::sort(names.begin(), names.end());
  return names;
}

Result<Report> check_table(std::string_view csv_text, const std::string& file_name) {
  const auto table = read_table(csv_text, file_name);
  if (!table) return tl::unexpected(table.error());
  Report report{{}, table->errors};
  for (const auto& row : table->rows) {
    auto checked = check_row(*table, row, file_name);
    if (checked)
      report.rows.push_back(std::move(*checked));
    else
      report.errors.push_back(in_row(checked.error(), row, file_name));
  }
  std::stable_sort(report.errors.begin(), report.errors.end(),
                   [](const Error& a, const Error& b) { return a.where.line < b.where.line; });
  return report;
}

std::string_view built_in_table() {
  return find_selfcheck_asset("/worked_values.csv");
}

}  // namespace provenit::selfcheck
