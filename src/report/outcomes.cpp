#include "outcomes.h"

#include <fmt/format.h>

#include <algorithm>

#include "provenit/evaluation/verdict.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/report/records_json.h"

namespace provenit::report {
namespace {

using store::QuestionRecord;
using store::VerdictRecord;

template <class T>
const T* by_id(const std::vector<T>& records, store::Id id) {
  const auto found = std::ranges::find(records, id, &T::id);
  return found == records.end() ? nullptr : &*found;
}

std::string why_missing(const Contents& contents, const QuestionRecord& question) {
  const auto* quantity = procedure::find_quantity(question.quantity);
  const auto run = std::ranges::find_if(
      contents.runs, [&](const RunContents& r) { return quantity && r.run.procedure == quantity->procedure; });
  if (run == contents.runs.end()) return "not_run";
  return run->run.state == store::RunState::finished ? "no_finding" : "not_finished";
}

Outcome outcome_of(const Contents& contents, const QuestionRecord& question) {
  Outcome out{.name = "unanswered", .question = &question};
  const auto verdict = std::ranges::find(contents.verdicts, question.id, &VerdictRecord::question);
  if (verdict != contents.verdicts.end()) {
    out.finding = by_id(contents.findings, verdict->finding);
    out.verdict = &*verdict;
    out.name = name_of(verdict->verdict);
  } else {
    const auto found =
        std::ranges::find_if(contents.findings, [&](const auto& f) { return evaluation::answers(f, question); });
    if (found != contents.findings.end()) out.finding = &*found;
  }
  // A question with a limit is decided by evaluation alone: without its verdict it stays undecided here.
  const bool open = !question.lower && !question.upper;
  if (!out.finding)
    out.missing = why_missing(contents, question);
  else if (open)
    out.name = "answered";
  else if (!out.verdict)
    out.name = "undecided";
  return out;
}

Json question_json(const Outcome& o) {
  Json out = {{"id", o.question->id}};
  out.update(set_question_json(*o.question));
  out["outcome"] = o.name;
  out["finding"] = o.finding ? Json(o.finding->id) : Json(nullptr);
  out["margin"] = o.verdict && o.verdict->margin ? number_json(*o.verdict->margin) : Json(nullptr);
  out["decides"] = o.verdict ? o.verdict->decides : std::string();
  out["explanation"] = o.verdict ? o.verdict->text : std::string();
  out["missing"] = o.missing.empty() ? Json(nullptr) : Json(o.missing);
  return out;
}

}  // namespace

Result<std::vector<Outcome>> outcomes(const Contents& contents) {
  for (const auto& v : contents.verdicts) {
    if (!by_id(contents.questions, v.question))
      return fail(ErrorCode::invalid_input,
                  fmt::format("verdict {} is about question {}, which is not in this loan", v.id, v.question),
                  "Evaluate the loan again.");
    if (!by_id(contents.findings, v.finding))
      return fail(ErrorCode::invalid_input,
                  fmt::format("verdict {} rests on finding {}, which is not in this loan", v.id, v.finding),
                  "Evaluate the loan again.");
  }
  std::vector<Outcome> out;
  out.reserve(contents.questions.size());
  for (const auto& question : contents.questions) out.push_back(outcome_of(contents, question));
  return out;
}

Json set_question_json(const store::QuestionRecord& q) {
  const auto optional = [](const std::optional<double>& v) { return v ? number_json(*v) : Json(nullptr); };
  return {{"key", q.key},
          {"set", q.set},
          {"text", q.text},
          {"quantity", q.quantity},
          {"conditions", q.conditions},
          {"comparison", name_of(q.comparison)},
          {"lower", optional(q.lower)},
          {"upper", optional(q.upper)},
          {"unit", q.unit},
          {"clause", q.clause},
          {"source", q.source},
          {"mark", name_of(q.mark)},
          {"weight", q.weight}};
}

Result<Json> questions_json(const Contents& contents) {
  const auto all = outcomes(contents);
  if (!all) return tl::unexpected(all.error());
  Json out = Json::array();
  for (const auto& o : *all) out.push_back(question_json(o));
  return out;
}

Json summary_json(const Json& questions) {
  Json out = {{"meets", 0}, {"fails", 0}, {"undecided", 0}, {"answered", 0}, {"unanswered", 0}};
  for (const auto& q : questions) {
    auto& count = out[q.at("outcome").get<std::string>()];
    count = count.get<int>() + 1;
  }
  return out;
}

}  // namespace provenit::report
