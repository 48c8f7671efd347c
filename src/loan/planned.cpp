#include "provenit/loan/planned.h"

#include <algorithm>

#include "provenit/loan/loan.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/showing.h"

namespace provenit::loan {

Result<std::vector<store::QuestionRecord>> questions_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                        const evaluation::RequirementSet& set) {
  const auto known = bench.questions(loan.id);
  if (!known) return tl::unexpected(known.error());
  auto out = set.questions;
  for (auto& q : out) {
    q.loan = loan.id;
    for (const auto& k : *known)
      if (k.set == q.set && k.key == q.key) q.id = k.id;
  }
  return out;
}

nlohmann::ordered_json to_json(const procedure::Plan& plan) {
  nlohmann::ordered_json out{{"total_s", plan.total.s},
                             {"available_s", plan.available.s},
                             {"expected_weight", plan.expected_weight},
                             {"total_weight", plan.total_weight}};
  auto& runs = out["runs"] = nlohmann::ordered_json::array();
  for (const auto& r : plan.runs)
    runs.push_back({{"procedure", r.procedure},
                    {"repeats", r.repeats},
                    {"time_s", r.time.s},
                    {"cumulative_s", r.cumulative.s},
                    {"readings", r.readings},
                    {"questions", r.questions}});
  auto& expected = out["questions"] = nlohmann::ordered_json::array();
  for (const auto& e : plan.expectations)
    expected.push_back({{"key", e.key}, {"probability", e.probability}, {"measured_only", e.measured_only}});
  auto& left = out["left_out"] = nlohmann::ordered_json::array();
  for (const auto& l : plan.left_out)
    left.push_back({{"key", l.key}, {"reason", procedure::name_of(l.reason)}, {"text", l.text}});
  out["hour_more"] = {{"expected_weight", plan.hour_more.expected_weight},
                      {"runs", plan.hour_more.runs},
                      {"questions", plan.hour_more.questions},
                      {"text", plan.hour_more.text}};
  return out;
}

Result<void> keep_only(procedure::Plan& plan, const std::vector<std::string>& procedures) {
  if (procedures.empty()) return {};
  for (const auto& id : procedures)
    if (procedure::find_procedure(id) == nullptr) return unknown_procedure(id);
  std::vector<procedure::PlannedRun> kept;
  for (const auto& id : procedures) {
    const auto found = std::ranges::find(plan.runs, id, &procedure::PlannedRun::procedure);
    procedure::PlannedRun run;
    if (found != plan.runs.end())
      run = *found;
    else
      run.procedure = id, run.parameters = procedure::find_procedure(id)->default_parameters();
    kept.push_back(std::move(run));
  }
  plan.runs = std::move(kept);
  return {};
}

std::vector<std::string> usual_cautions() {
  return {"Bright windows follow in a dark room: look away or announce them.",
          "Static bright signals can leave traces on a self-emissive panel: dwell is limited, and every run ends on "
          "black.",
          "Never open a powered display. Local safety rules and licensed practice come first."};
}

Result<std::vector<std::string>> cautions_of(const store::Bench& bench, const store::LoanRecord& loan,
                                             const procedure::Plan& plan) {
  std::vector<std::string> texts;
  signal::ShowingCautions brightest;
  for (const auto& run : plan.runs) {
    const auto* procedure = procedure::find_procedure(run.procedure);
    if (procedure == nullptr) continue;
    if (!procedure->caution().empty()) texts.push_back(run.procedure + ": " + std::string(procedure->caution()));
    const auto signals = signals_of(bench, loan, run.procedure);
    if (!signals) return tl::unexpected(signals.error());
    for (const auto& named : *signals) {
      const auto raster = signal::Raster::make(named.signal, {960, 540});
      if (!raster) continue;  // a checkerboard finer than that: its brightness is that of coarser ones
      const auto found = signal::cautions_of(signal::showing_of(*raster));
      if (!found) return tl::unexpected(found.error());
      const bool first = brightest.stay.level_cdm2 == 0;
      if (found->stay.caution() && (first || found->stay.allowed < brightest.stay.allowed)) brightest = *found;
    }
  }
  for (auto& text : brightest.texts()) texts.push_back(std::move(text));
  return texts;
}

}  // namespace provenit::loan
