// provenit questions: what the loan must answer.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <iterator>
#include <memory>
#include <set>

#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/loan/planned.h"
#include "provenit/procedure/catalogue.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct QuestionsOptions : LoanChoice {
  std::vector<std::string> sets, without;
  bool list = false;
};

std::string limit_text(const store::QuestionRecord& q) {
  switch (q.comparison) {
    case store::Comparison::at_least:
      return q.lower ? fmt::format("at least {:g}", *q.lower) : "none set";
    case store::Comparison::at_most:
      return q.upper ? fmt::format("at most {:g}", *q.upper) : "none set";
    default:
      break;
  }
  return q.lower && q.upper ? fmt::format("{:g} to {:g}", *q.lower, *q.upper) : "none set";
}

nlohmann::ordered_json to_json(const store::QuestionRecord& q) {
  nlohmann::ordered_json out{{"id", q.id},
                             {"set", q.set},
                             {"key", q.key},
                             {"text", q.text},
                             {"quantity", q.quantity},
                             {"conditions", q.conditions},
                             {"unit", q.unit},
                             {"clause", q.clause},
                             {"source", q.source},
                             {"mark", name_of(q.mark)},
                             {"weight", q.weight}};
  out["comparison"] = name_of(q.comparison);
  out["lower"] = q.lower ? nlohmann::ordered_json(*q.lower) : nullptr;
  out["upper"] = q.upper ? nlohmann::ordered_json(*q.upper) : nullptr;
  return out;
}

int list(const Output& output, const std::vector<store::QuestionRecord>& questions) {
  Table table({"set", "key", "question", "limit", "unit", "mark", "weight"});
  auto document = nlohmann::ordered_json::array();
  for (const auto& q : questions) {
    table.add({q.set, q.key, q.text, limit_text(q), q.unit, name_of(q.mark), fmt::format("{:g}", q.weight)});
    document.push_back(to_json(q));
  }
  output.say(table.text(), document);
  return kDone;
}

Result<void> leave_out(const std::vector<std::string>& keys, std::vector<store::QuestionRecord>& questions) {
  for (const auto& key : keys)
    if (std::ranges::find(questions, key, &store::QuestionRecord::key) == questions.end())
      return fail(ErrorCode::invalid_input, fmt::format("no question of these sets has the key '{}'", key),
                  "See the keys with `provenit questions BENCH` once a set is loaded, or in the set's file.",
                  {.field = "--without"});
  std::erase_if(questions, [&](const auto& q) { return std::ranges::find(keys, q.key) != keys.end(); });
  return {};
}

int questions(const Output& output, const QuestionsOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  auto known = bench.questions(loan.id);
  if (!known) return output.fail(known.error());
  if (o.sets.empty()) return list(output, *known);

  // All sets are read before the first question is stored: a wrong file changes nothing.
  std::vector<store::QuestionRecord> fresh;
  for (const auto& name : o.sets) {
    const auto set = evaluation::find_requirement_set(name, read_file);
    if (!set) return output.fail(set.error());
    auto asked = loan::questions_of(bench, loan, *set);
    if (!asked) return output.fail(asked.error());
    std::ranges::move(*asked, std::back_inserter(fresh));
  }
  if (const auto left_out = leave_out(o.without, fresh); !left_out) return output.fail(left_out.error());
  int added = 0, replaced = 0;
  const auto all = bench.together([&]() -> Result<void> {
    for (const auto& q : fresh) {
      (q.id == 0 ? added : replaced)++;
      if (const auto id = bench.put(q); !id) return tl::unexpected(id.error());
    }
    return {};
  });
  if (!all) return output.fail(all.error());
  output.say(fmt::format("{} questions added, {} replaced. Next: provenit plan {}", added, replaced, o.bench),
             {{"added", added}, {"replaced", replaced}});
  return kDone;
}

}  // namespace

void add_questions(Command& command) {
  const auto o = std::make_shared<QuestionsOptions>();
  std::string names;
  for (const auto& name : evaluation::built_in_requirement_sets()) names += "  " + name + "\n";
  auto* verb = add_verb(command, "questions", "load what the loan must answer, or list it",
                        "provenit questions tern.bench --set claims-tern-32 --set my-own-set.toml\n"
                        "provenit questions curlew.bench --set hdr-mastering-basics --without zones\n"
                        "provenit questions tern.bench\n\nSets that come with the command:\n" +
                            names);
  add_loan_choice(*verb, *o);
  verb->add_option("--set", o->sets, "requirement set: a name from the list below, or a TOML file; may be repeated");
  verb->add_option("--without", o->without, "keys of questions that do not apply to this display: not loaded")
      ->needs("--set");
  verb->callback([&command, o] { command.action = [&command, o] { return questions(command.output, *o); }; });
}

}  // namespace provenit::cli
