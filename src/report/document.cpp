#include "provenit/report/document.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "outcomes.h"
#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/report/records_json.h"
#include "tables.h"

namespace provenit::report {
namespace {

constexpr const char* kEvaluateAgain = "Evaluate the loan again with this version.";

Result<void> check_finding(const store::FindingRecord& f) {
  const auto name = fmt::format("finding {} ({})", f.id, f.quantity);
  if (!procedure::find_quantity(f.quantity))
    return fail(ErrorCode::invalid_input, name + " is about a quantity this version does not know", kEvaluateAgain);
  if (!std::isfinite(f.value)) return fail(ErrorCode::invalid_input, name + " has no finite value", kEvaluateAgain);
  if (std::isnan(f.lower95) || std::isnan(f.upper95) || f.lower95 > f.upper95)
    return fail(ErrorCode::invalid_input, fmt::format("{}: its interval [{}, {}] is none", name, f.lower95, f.upper95),
                kEvaluateAgain);
  return {};
}

Result<void> check_question(const store::QuestionRecord& q) {
  if (procedure::find_quantity(q.quantity)) return {};
  return fail(ErrorCode::invalid_input,
              fmt::format("question {} asks for '{}', a quantity this version does not know", q.key, q.quantity),
              "Load the questions again.");
}

template <class Records>
Result<void> check_ids(const Records& records, const char* what) {
  std::set<store::Id> seen;
  for (const auto& record : records)
    if (!seen.insert(record.id).second)
      return fail(ErrorCode::invalid_input, fmt::format("two {} have the id {}", what, record.id),
                  "Read the records from one bench.");
  return {};
}

Result<void> check_attachments(const Contents& contents) {
  for (const auto& f : contents.findings)
    for (const auto id : f.attachments)
      if (std::ranges::find(contents.attachments, id, &store::AttachmentRecord::id) == contents.attachments.end())
        return fail(
            ErrorCode::invalid_input,
            fmt::format("finding {} ({}) was read from attachment {}, which is not given", f.id, f.quantity, id),
            "Read the records from one bench.");
  return {};
}

Result<void> check_corrections(const Contents& contents) {
  for (const auto& f : contents.findings) {
    const auto id = correction_of(f);
    if (!id || std::ranges::find(contents.corrections, *id, &store::CorrectionRecord::id) != contents.corrections.end())
      continue;
    return fail(ErrorCode::invalid_input,
                fmt::format("finding {} ({}) is about correction {}, which is not given", f.id, f.quantity, *id),
                "Read the records from one bench.");
  }
  return {};
}

Result<void> check(const Contents& contents) {
  for (const auto& f : contents.findings)
    if (auto ok = check_finding(f); !ok) return ok;
  for (const auto& q : contents.questions)
    if (auto ok = check_question(q); !ok) return ok;
  if (auto ok = check_ids(contents.findings, "findings"); !ok) return ok;
  if (auto ok = check_ids(contents.questions, "questions"); !ok) return ok;
  if (auto ok = check_ids(contents.attachments, "attachments"); !ok) return ok;
  if (auto ok = check_ids(contents.corrections, "corrections"); !ok) return ok;
  if (auto ok = check_attachments(contents); !ok) return ok;
  if (auto ok = check_corrections(contents); !ok) return ok;
  std::set<store::Id> seen;
  for (const auto& run : contents.runs)
    for (const auto& r : run.readings)
      if (!seen.insert(r.id).second)
        return fail(ErrorCode::invalid_input, fmt::format("reading {} is given twice", r.id),
                    "Read the records from one bench.", Where{.reading = r.id});
  return {};
}

/// Every hash handed in, and that of readings.csv, by which a package is tied to its page.
Json hashes_json(const Contents& contents) {
  Json out = Json::array();
  for (const auto& h : contents.hashes) out.push_back({{"name", h.name}, {"sha256", h.sha256}});
  out.push_back({{"name", "readings.csv"}, {"sha256", sha256_hex(readings_csv(contents))}});
  return out;
}

Json assemble(const Contents& c, Json questions) {
  Json findings = Json::array(), runs = Json::array();
  Json attachments = Json::array(), corrections = Json::array();
  for (const auto& f : c.findings) findings.push_back(finding_json(f));
  for (const auto& r : c.runs) runs.push_back(run_json(r));
  for (const auto& a : c.attachments) attachments.push_back(attachment_json(a, c.findings));
  for (const auto& r : c.corrections) corrections.push_back(correction_json(r, c.findings));
  Json out = {{"schema", "provenit-report/1"},
              {"written", time_json(c.written)},
              {"software", c.software},
              {"invented", c.invented},
              {"title", c.title},
              {"evaluator", c.evaluator},
              {"display", display_json(c.display)},
              {"instrument", instrument_json(c.instrument)},
              {"room", room_json(c.room)},
              {"loan", loan_json(c.loan)},
              {"summary", summary_json(questions)},
              {"questions", std::move(questions)},
              {"findings", std::move(findings)},
              {"runs", std::move(runs)},
              {"attachments", std::move(attachments)},
              {"corrections", std::move(corrections)},
              {"titles", c.titles},
              {"hashes", hashes_json(c)},
              {"quantities", quantities_json()},
              {"readings", readings_json(c.runs)}};
  if (!c.without.empty()) out["without"] = c.without;
  return out;
}

}  // namespace

Result<Document> Document::build(const Contents& contents) {
  if (auto ok = check(contents); !ok) return tl::unexpected(ok.error());
  try {  // nlohmann reports text that is not UTF-8 by throwing
    auto questions = questions_json(contents);
    if (!questions) return tl::unexpected(questions.error());
    Document document(assemble(contents, std::move(*questions)));
    (void)document.json_.dump();
    return document;
  } catch (const nlohmann::json::exception& e) {
    return fail(ErrorCode::invalid_input, fmt::format("a text in the bench is not UTF-8 ({})", e.what()),
                "Save the file it came from as UTF-8 and load it again.");
  }
}

std::string Document::text() const {
  return json_.dump(2) + "\n";
}

}  // namespace provenit::report
