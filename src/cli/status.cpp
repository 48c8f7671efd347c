// provenit status: what the loan must answer, and how far it is.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <memory>

#include "provenit/base/text.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

int status(const Output& output, const std::string& path, store::Id loan_id) {
  const auto bench = store::Bench::open(path);
  if (!bench) return output.fail(bench.error());
  const auto title = bench->title();
  if (!title) return output.fail(title.error());
  std::string text = fmt::format("{} ({})\n", title->title, title->evaluator);
  nlohmann::ordered_json document{{"title", title->title}, {"evaluator", title->evaluator}, {"bench", path}};
  const auto loans = bench->loans();
  if (!loans) return output.fail(loans.error());
  if (loans->empty()) {
    output.say(text + fmt::format("No loan yet. Next: provenit describe loan {} --hours 48", path), document);
    return kDone;
  }
  const auto loan = pick_loan(*bench, loan_id);
  if (!loan) return output.fail(loan.error());
  const auto display = bench->display(loan->display);
  const auto questions = bench->questions(loan->id);
  const auto runs = bench->runs(loan->id);
  const auto verdicts = bench->latest_verdicts(loan->id);
  const auto counts = bench->reading_counts(loan->id);
  if (!display) return output.fail(display.error());
  if (!questions) return output.fail(questions.error());
  if (!runs) return output.fail(runs.error());
  if (!verdicts) return output.fail(verdicts.error());
  if (!counts) return output.fail(counts.error());

  text += fmt::format("Loan {}: {}, {} to {}\n\n", loan->id, display->name, iso8601(loan->starts), iso8601(loan->ends));
  document["loan"] = {
      {"id", loan->id}, {"display", display->name}, {"starts", iso8601(loan->starts)}, {"ends", iso8601(loan->ends)}};
  Table runs_table({"run", "procedure", "state", "readings", "started"});
  auto& runs_json = document["runs"] = nlohmann::ordered_json::array();
  for (const auto& run : *runs) {
    const auto counted = counts->find(run.id);
    const std::int64_t readings = counted == counts->end() ? 0 : counted->second;
    runs_table.add(
        {std::to_string(run.id), run.procedure, name_of(run.state), std::to_string(readings), iso8601(run.started)});
    runs_json.push_back(
        {{"id", run.id}, {"procedure", run.procedure}, {"state", name_of(run.state)}, {"readings", readings}});
  }
  text += runs->empty() ? fmt::format("No run yet. Next: provenit run {}\n", path) : runs_table.text();

  int meets = 0, fails = 0, undecided = 0;
  for (const auto& v : *verdicts) {
    meets += v.verdict == store::Verdict::meets;
    fails += v.verdict == store::Verdict::fails;
    undecided += v.verdict == store::Verdict::undecided;
  }
  text += fmt::format("\n{} questions: {} meets, {} fails, {} undecided, {} without a verdict\n", questions->size(),
                      meets, fails, undecided, questions->size() - verdicts->size());
  document["questions"] = {{"asked", questions->size()},
                           {"meets", meets},
                           {"fails", fails},
                           {"undecided", undecided},
                           {"without_verdict", questions->size() - verdicts->size()}};
  output.say(text, document);
  return kDone;
}

}  // namespace

void add_status(Command& command) {
  const auto o = std::make_shared<LoanChoice>();
  auto* verb =
      add_verb(command, "status", "what the loan must answer, and how far it is", "provenit status tern.bench");
  add_loan_choice(*verb, *o);
  verb->callback(
      [&command, o] { command.action = [&command, o] { return status(command.output, o->bench, o->loan); }; });
}

}  // namespace provenit::cli
