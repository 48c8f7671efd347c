// check_table TABLE.csv LEAST: exit code 0 if the table has at least LEAST rows and every one passes.
#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/selfcheck/selfcheck.h"

int main(int argc, char** argv) {
  using namespace provenit;
  const auto least = argc == 3 ? parse_integer(argv[2]) : std::nullopt;
  if (!least) {
    fmt::print(stderr, "usage: check_table TABLE.csv LEAST\n");
    return 2;
  }
  const auto text = read_file(argv[1]);
  const auto report = text ? selfcheck::check_table(*text, argv[1]) : tl::unexpected(text.error());
  if (!report) {
    fmt::print(stderr, "{}\n", report.error().text());
    return 2;
  }
  fmt::print("{}", selfcheck::text_of(*report, true));
  return report->all_pass() && report->rows.size() >= static_cast<std::size_t>(*least) ? 0 : 1;
}
