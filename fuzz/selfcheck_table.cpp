// Any bytes as a table of check values: nothing may crash, hang or hold a number that is none, and the report can
// always be written. A header row is put before inputs that lack one, so that the rows are reached.
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string>

#include "provenit/selfcheck/selfcheck.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace provenit;
  std::string table(reinterpret_cast<const char*>(data), size);
  if (table.find("id,quantity") == std::string::npos) table = "id,quantity,inputs,expected,tolerance,source\n" + table;
  const auto report = selfcheck::check_table(table, "fuzz.csv");
  if (!report) {
    if (report.error().message.empty()) std::abort();
    return 0;
  }
  for (const auto& row : report->rows) {
    if (row.got.size() != row.expected.size() || row.line < 1) std::abort();
    for (const double value : row.got)
      if (!std::isfinite(value)) std::abort();
  }
  for (const auto& error : report->errors)
    if (error.message.empty() || error.where.line < 1) std::abort();
  if (selfcheck::text_of(*report).empty() || selfcheck::json_of(*report).dump().empty()) std::abort();
  return 0;
}
