#include <algorithm>

#include "loan_internal.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/evaluation/verdict.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/loan/loan.h"
#include "provenit/loan/recordings.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/procedure/recording.h"

namespace provenit::loan {

Result<std::optional<store::ReadingRecord>> last_reading(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  std::optional<store::ReadingRecord> last;
  for (const auto& run : *runs) {
    if (run.origin.starts_with("imported")) continue;
    auto readings = bench.readings(run.id);
    if (!readings) return tl::unexpected(readings.error());
    if (!readings->empty() && (!last || readings->back().taken > last->taken)) last = std::move(readings->back());
  }
  return last;
}

Result<instrument::ControlSettings> controls_left(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  instrument::ControlSettings out;
  std::optional<Timestamp> newest;
  for (const auto& run : *runs) {
    if (run.procedure != "balance") continue;
    const auto readings = bench.readings(run.id);
    if (!readings) return tl::unexpected(readings.error());
    if (readings->empty() || (newest && readings->back().taken < *newest)) continue;
    const auto kept = readings->back().context.find("controls");
    if (kept == readings->back().context.end()) continue;
    auto settings = instrument::control_settings_from_json(*kept);
    if (!settings) return settings;
    out = std::move(*settings);
    newest = readings->back().taken;
  }
  return out;
}

Result<Timestamp> time_in_loan(const store::Bench& bench, const store::LoanRecord& loan, Timestamp machine_now) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  if (!display->details.contains("simulated")) return machine_now;
  const auto last = last_reading(bench, loan);
  if (!last) return tl::unexpected(last.error());
  return *last ? (*last)->taken + (*last)->measurement.integration : loan.starts;
}

Result<procedure::Context> context_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto findings = bench.latest_findings(loan.id);
  if (!findings) return tl::unexpected(findings.error());
  procedure::Context context;
  context.encoding = display->encoding;
  context.capabilities = instrument->capabilities;
  context.expected_peak_cdm2 = display->details.value("claimed_peak_cdm2", display->encoding.nominal_peak_cdm2);
  double found_peak_cdm2 = 0;
  for (const auto& f : *findings)
    if (f.quantity == "peak_luminance") found_peak_cdm2 = std::max(found_peak_cdm2, f.value);
  if (found_peak_cdm2 > 0) context.expected_peak_cdm2 = found_peak_cdm2;
  return context;
}

Result<procedure::Plan> make_plan(const store::Bench& bench, const store::LoanRecord& loan, Timestamp machine_now,
                                  std::optional<Seconds> available) {
  procedure::PlanRequest request;
  auto questions = bench.questions(loan.id);
  if (!questions) return tl::unexpected(questions.error());
  if (questions->empty())
    return fail(ErrorCode::not_found, "the loan has no questions",
                "Load some: provenit questions " + bench.path() + " --set ebu-tech-3320-v4.1", {.file = bench.path()});
  request.questions = std::move(*questions);
  auto findings = bench.latest_findings(loan.id);
  if (!findings) return tl::unexpected(findings.error());
  request.findings = std::move(*findings);
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  request.context = std::move(*context);
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  request.certificate = basis->certificate;
  const auto now = time_in_loan(bench, loan, machine_now);
  if (!now) return tl::unexpected(now.error());
  request.available = available.value_or(loan.ends - std::max(*now, loan.starts));
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  request.warmed_up = std::ranges::any_of(*runs, [](const store::RunRecord& run) {
    return run.procedure == "warm_up" && run.state == store::RunState::finished;
  });
  return procedure::make_plan(request);
}

namespace {

/// Attaches what the devices can record themselves; false where a person has to.
Result<bool> record(store::Bench& bench, const store::LoanRecord& loan, const procedure::Recording& recording,
                    Devices& devices) {
  const auto files = devices.record(recording);
  if (!files) return false;
  for (const auto& file : *files) {
    const auto attached = attach(bench, loan,
                                 {.path = file.name,
                                  .recording = recording.id,
                                  .step = file.step,
                                  .parameters = file.parameters,
                                  .conditions = file.conditions},
                                 file.bytes, devices.clock().now());
    // Recording it again gives the same file, which the loan has.
    if (!attached && attached.error().code != ErrorCode::conflict) return tl::unexpected(attached.error());
  }
  return true;
}

}  // namespace

Result<LoanOutcome> run_plan(store::Bench& bench, const store::LoanRecord& loan, const procedure::Plan& plan,
                             Devices& devices, bool again, const RunHooks& hooks) {
  const auto questions = bench.questions(loan.id);
  if (!questions) return tl::unexpected(questions.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  const auto finished_before = bench.runs(loan.id);
  if (!finished_before) return tl::unexpected(finished_before.error());

  LoanOutcome outcome;
  for (std::size_t i = 0; i < plan.runs.size(); ++i) {
    const auto& planned = plan.runs[i];
    const bool done = std::ranges::any_of(*finished_before, [&](const store::RunRecord& run) {
      return run.procedure == planned.procedure && run.state == store::RunState::finished;
    });
    if (done && !again) {
      outcome.skipped.push_back(planned.procedure);
      continue;
    }
    if (const auto* recording = procedure::find_recording(planned.procedure)) {
      const auto kept = bench.attachments(loan.id);
      if (!kept) return tl::unexpected(kept.error());
      const bool there =
          std::ranges::find(*kept, planned.procedure, &store::AttachmentRecord::recording) != kept->end();
      if (there && !again) {
        outcome.skipped.push_back(planned.procedure);
        continue;
      }
      const auto recorded = record(bench, loan, *recording, devices);
      if (!recorded) return tl::unexpected(recorded.error());
      if (!*recorded) outcome.to_record.push_back(planned.procedure);
      continue;
    }
    const auto* procedure = procedure::find_procedure(planned.procedure);
    if (procedure == nullptr)
      return fail(ErrorCode::unsupported, "this build has no procedure '" + planned.procedure + "'");
    if (hooks.begins) hooks.begins(planned, i, plan.runs.size());

    std::vector<store::QuestionRecord> served;
    for (const auto& q : *questions) {
      // A question that another procedure answers, with this one's help, cannot be decided by this run.
      const auto* quantity = procedure::find_quantity(q.quantity);
      if (quantity != nullptr && quantity->procedure == planned.procedure &&
          std::ranges::find(planned.questions, q.key) != planned.questions.end())
        served.push_back(q);
    }
    evaluation::EvaluationInput input{.encoding = context->encoding,
                                      .certificate = basis->certificate,
                                      .capabilities = context->capabilities,
                                      .matrix = basis->matrix,
                                      .seed = loan.seed};
    procedure::RunOptions options;
    options.origin = devices.origin();
    options.progress = hooks.progress;
    options.stop_requested = hooks.stop_requested;
    options.decided = [&](std::span<const store::ReadingRecord> readings) {
      return evaluation::decided(readings, planned.procedure, served, input) ? procedure::Decided::yes
                                                                             : procedure::Decided::no;
    };
    context->parameters = planned.parameters;
    const procedure::Equipment equipment{bench, devices.instrument(), devices.presenter(), devices.clock()};
    auto run = procedure::run_procedure(equipment, loan.id, *procedure, *context, options);
    if (!run) return tl::unexpected(run.error());
    const auto ending = run->ending;
    outcome.runs.push_back({planned.procedure, std::move(*run)});
    if (ending != procedure::Ending::complete && ending != procedure::Ending::decided) {
      outcome.ending = ending;
      return outcome;
    }
  }
  outcome.finished = true;
  return outcome;
}

}  // namespace provenit::loan
