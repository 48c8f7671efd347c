// provenit selfcheck: published check values on this machine, or a table of one's own.
#include "provenit/selfcheck/selfcheck.h"

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/base/text.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct SelfcheckOptions {
  std::string table;
  bool failures = false;
};

int check(const Output& output, const SelfcheckOptions& o) {
  selfcheck::Report report;
  if (o.table.empty()) {
    report = selfcheck::check_built_in();
  } else {
    const auto text = read_file(o.table);
    if (!text) return output.fail(text.error());
    auto checked = selfcheck::check_table(*text, o.table);
    if (!checked) return output.fail(checked.error());
    report = std::move(*checked);
  }
  output.say(selfcheck::text_of(report, o.failures), selfcheck::json_of(report));
  if (!report.errors.empty()) return kRefused;
  return report.all_pass() ? kDone : kCheckFailed;
}

}  // namespace

void add_selfcheck(Command& command) {
  const auto o = std::make_shared<SelfcheckOptions>();
  auto* verb = add_verb(
      command, "selfcheck", "hold this build against published check values, or a table of yours",
      "provenit selfcheck\n"
      "provenit selfcheck my-figures.csv --failures\n\n"
      "A table has the columns id, quantity, inputs, expected, tolerance, source; data/reference/worked_values.csv\n"
      "is one. Exit code 1: a value differs. Exit code 2: a row could not be computed.");
  verb->add_option("table", o->table, "table of check values; the built-in ones, if not given");
  verb->add_flag("--failures", o->failures, "print only rows that do not pass");
  verb->callback([&command, o] { command.action = [&command, o] { return check(command.output, *o); }; });
}

}  // namespace provenit::cli
