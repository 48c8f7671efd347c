// The report as text and as JSON.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "provenit/selfcheck/selfcheck.h"

namespace provenit::selfcheck {
namespace {

std::string numbers(const std::vector<double>& values) {
  std::vector<std::string> texts;
  texts.reserve(values.size());
  for (const double value : values) texts.push_back(fmt::format("{:.10g}", value));
  return fmt::format("{}", fmt::join(texts, " "));
}

/// Long texts lose their end, so that a row stays on a line of a terminal.
std::string cut(std::string text, std::size_t longest) {
  if (text.size() <= longest) return text;
  return text.substr(0, longest - 3) + "...";
}

using Cells = std::vector<std::string>;

std::string aligned(const std::vector<Cells>& lines) {
  std::vector<std::size_t> width(lines[0].size(), 0);
  for (const auto& cells : lines)
    for (std::size_t i = 0; i < cells.size(); ++i) width[i] = std::max(width[i], cells[i].size());
  std::string out;
  for (const auto& cells : lines) {
    std::string line;
    for (std::size_t i = 0; i < cells.size(); ++i) line += fmt::format("{:<{}}  ", cells[i], width[i]);
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + '\n';
  }
  return out;
}

}  // namespace

const char* name_of(Verdict verdict) {
  return verdict == Verdict::pass ? "pass" : "fail";
}

int Report::count(Verdict verdict) const {
  return static_cast<int>(
      std::count_if(rows.begin(), rows.end(), [verdict](const Row& row) { return row.verdict == verdict; }));
}

bool Report::all_pass() const {
  return errors.empty() && !rows.empty() && count(Verdict::fail) == 0;
}

std::string text_of(const Report& report, bool failures_only) {
  std::vector<Cells> lines{{"id", "quantity", "expected", "got", "error", "tolerance", "verdict", "source"}};
  for (const auto& row : report.rows) {
    if (failures_only && row.verdict == Verdict::pass) continue;
    lines.push_back({row.id, row.quantity, cut(numbers(row.expected), 44), cut(numbers(row.got), 44),
                     fmt::format("{:.2g}", row.error), row.tolerance, name_of(row.verdict), cut(row.source, 60)});
  }
  std::string out = lines.size() > 1 ? aligned(lines) + '\n' : std::string{};
  for (const auto& error : report.errors) out += error.text() + '\n';
  out += fmt::format("{} of {} rows pass, {} fail, {} could not be computed.\n", report.count(Verdict::pass),
                     report.rows.size() + report.errors.size(), report.count(Verdict::fail), report.errors.size());
  return out;
}

nlohmann::ordered_json json_of(const Report& report) {
  auto rows = nlohmann::ordered_json::array(), errors = nlohmann::ordered_json::array();
  for (const auto& row : report.rows)
    rows.push_back({{"file", row.file},
                    {"line", row.line},
                    {"id", row.id},
                    {"quantity", row.quantity},
                    {"expected", row.expected},
                    {"got", row.got},
                    {"error", std::isfinite(row.error) ? nlohmann::ordered_json(row.error) : nlohmann::ordered_json()},
                    {"tolerance", row.tolerance},
                    {"source", row.source},
                    {"verdict", name_of(row.verdict)}});
  for (const auto& error : report.errors)
    errors.push_back({{"code", provenit::name_of(error.code)},
                      {"message", error.message},
                      {"advice", error.advice},
                      {"file", error.where.file},
                      {"line", error.where.line},
                      {"field", error.where.field}});
  return {{"rows", std::move(rows)},
          {"errors", std::move(errors)},
          {"passed", report.count(Verdict::pass)},
          {"failed", report.count(Verdict::fail)},
          {"not_computed", report.errors.size()}};
}

}  // namespace provenit::selfcheck
