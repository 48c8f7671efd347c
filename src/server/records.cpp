#include "records.h"

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/signal/signal.h"

namespace provenit::server {

using report::Json;

Json loan_record_json(const store::LoanRecord& loan) {
  Json out = {{"id", loan.id}, {"display", loan.display}, {"instrument", loan.instrument}, {"room", loan.room}};
  out.update(Json{
      {"starts", iso8601(loan.starts)}, {"ends", iso8601(loan.ends)}, {"purpose", loan.purpose}, {"seed", loan.seed}});
  return out;
}

Json reading_json(const store::ReadingRecord& reading, const store::RunRecord& run) {
  const auto& m = reading.measurement;
  return {{"id", reading.id},
          {"loan", run.loan},
          {"run", run.id},
          {"procedure", run.procedure},
          {"sequence", reading.sequence},
          {"step", reading.step},
          {"repeat", reading.repeat},
          {"taken", iso8601(reading.taken)},
          {"code", reading.signal.patch.code},
          {"signal", signal::describe(reading.signal)},
          {"X_cdm2", m.xyz.X},
          {"Y_cdm2", m.xyz.Y},
          {"Z_cdm2", m.xyz.Z},
          {"integration_s", m.integration.s},
          {"saturated", m.saturated},
          {"below_range", m.below_range},
          {"spectrum", m.spectrum.has_value()},
          {"context", reading.context}};
}

Result<Json> readings_json(const store::Bench& bench, const std::vector<store::ReadingRecord>& readings) {
  Json out = Json::array();
  std::map<store::Id, store::RunRecord> runs;
  for (const auto& reading : readings) {
    auto found = runs.find(reading.run);
    if (found == runs.end()) {
      auto run = bench.run(reading.run);
      if (!run) return tl::unexpected(run.error());
      found = runs.emplace(reading.run, std::move(*run)).first;
    }
    out.push_back(reading_json(reading, found->second));
  }
  return out;
}

Result<report::Contents> contents_without_readings(const store::Bench& bench, const store::LoanRecord& loan,
                                                   bool with_events) {
  report::Contents out;
  out.loan = loan;
  const auto take = [](auto& target, auto result) -> Result<void> {
    if (!result) return tl::unexpected(result.error());
    target = std::move(*result);
    return {};
  };
  if (auto r = take(out.display, bench.display(loan.display)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.instrument, bench.instrument(loan.instrument)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.room, bench.room(loan.room)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.questions, bench.questions(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.findings, bench.latest_findings(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.verdicts, bench.latest_verdicts(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(out.attachments, bench.attachments(loan.id)); !r) return tl::unexpected(r.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (const auto& run : *runs) {
    report::RunContents r{run, {}, {}};
    if (with_events)
      if (auto t = take(r.events, bench.events(run.id)); !t) return tl::unexpected(t.error());
    out.runs.push_back(std::move(r));
  }
  return out;
}

Json evaluated_json(const std::vector<store::FindingRecord>& findings) {
  return findings.empty() ? Json(nullptr) : report::time_json(findings.front().computed);
}

Result<bool> is_stale(const store::Bench& bench, const report::Contents& contents) {
  store::Id used = 0, attached = 0;
  for (const auto& f : contents.findings) {
    for (const auto id : f.readings) used = std::max(used, id);
    for (const auto id : f.attachments) attached = std::max(attached, id);
  }
  for (const auto& a : contents.attachments)
    if (a.id > attached && !contents.findings.empty() && a.added > contents.findings.front().computed) return true;
  const auto newer = bench.readings(store::ReadingQuery{.loan = contents.loan.id, .after = used});
  if (!newer) return tl::unexpected(newer.error());
  // A run may end on the reference, which no finding names.
  return std::ranges::any_of(*newer, [](const auto& r) { return r.step != "reference"; });
}

}  // namespace provenit::server
