// provenit plan: what fits the loan, what it decides, what was left out, what an hour more would buy.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/loan/loan.h"
#include "provenit/loan/planned.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct PlanOptions : LoanChoice {
  double hours = 0;
};

std::string to_text(const procedure::Plan& plan) {
  std::string text = fmt::format("{} of measuring planned; {} of the loan are left.\n\n", duration_text(plan.total.s),
                                 duration_text(plan.available.s));
  Table runs({"procedure", "repeats", "readings", "time", "ends after", "questions served"});
  for (const auto& r : plan.runs)
    runs.add({r.procedure, std::to_string(r.repeats), std::to_string(r.readings), duration_text(r.time.s),
              duration_text(r.cumulative.s), fmt::format("{}", fmt::join(r.questions, ", "))});
  text += runs.text() + '\n';
  Table questions({"question", "chance of a verdict"});
  for (const auto& e : plan.expectations)
    questions.add(
        {e.key, e.measured_only ? "value only: no limit is set" : fmt::format("{:.0f} %", 100 * e.probability)});
  text += questions.text() + '\n';
  if (!plan.left_out.empty()) {
    text += "Left out:\n";
    for (const auto& l : plan.left_out) text += fmt::format("  {}: {}\n", l.key, l.text);
    text += '\n';
  }
  return text + "An hour more: " + plan.hour_more.text + '\n';
}

int plan(const Output& output, const PlanOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto available = o.hours > 0 ? std::optional(Seconds{o.hours * 3600}) : std::nullopt;
  const auto made = loan::make_plan(bench, loan, machine_time(), available);
  if (!made) return output.fail(made.error());
  output.say(to_text(*made), loan::to_json(*made));
  return kDone;
}

}  // namespace

void add_plan(Command& command) {
  const auto o = std::make_shared<PlanOptions>();
  auto* verb = add_verb(command, "plan", "what to measure in the time left, what it decides and what it leaves out",
                        "provenit plan tern.bench\nprovenit plan tern.bench --hours 1.5");
  add_loan_choice(*verb, *o);
  verb->add_option("--hours", o->hours, "plan for this long instead of what is left of the loan")
      ->check(CLI::PositiveNumber);
  verb->callback([&command, o] { command.action = [&command, o] { return plan(command.output, *o); }; });
}

}  // namespace provenit::cli
