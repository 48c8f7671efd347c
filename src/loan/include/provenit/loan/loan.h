#pragma once
// Carries a loan through: plan, run, import, evaluate, and what a report is made of. The command and a server call
// these and only parse and print around them. One thread per Bench.
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/instrument/import.h"
#include "provenit/loan/devices.h"
#include "provenit/procedure/estimate.h"
#include "provenit/procedure/planner.h"
#include "provenit/procedure/runner.h"
#include "provenit/report/document.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// The time it is in the loan: `machine_now`, or with a simulated display the end of the newest reading (the loan's
/// start before the first).
[[nodiscard]] Result<Timestamp> time_in_loan(const store::Bench& bench, const store::LoanRecord& loan,
                                             Timestamp machine_now);

/// What procedures may know of this loan: encoding, instrument, and the peak found so far, else claimed
/// (display record's details.claimed_peak_cdm2), else the encoding's nominal peak.
[[nodiscard]] Result<procedure::Context> context_of(const store::Bench& bench, const store::LoanRecord& loan);

/// The plan for the questions of the loan in the time that is left of it, or in `available` if given.
/// Errors: not_found if the loan has no questions; those of make_plan.
[[nodiscard]] Result<procedure::Plan> make_plan(const store::Bench& bench, const store::LoanRecord& loan,
                                                Timestamp machine_now, std::optional<Seconds> available);

struct RunHooks {
  /// A run of the plan begins: its place in the plan (from 0), how many there are.
  std::function<void(const procedure::PlannedRun&, std::size_t, std::size_t)> begins;
  std::function<void(const procedure::Progress&)> progress;
  std::function<bool()> stop_requested;
};

struct RunSummary {
  std::string procedure;
  procedure::RunOutcome outcome;
};

struct LoanOutcome {
  std::vector<RunSummary> runs;             ///< in the order they were done
  std::vector<std::string> skipped;         ///< procedures of the plan that were finished before
  std::vector<std::string> to_record;       ///< recordings of the plan that the loan has no attachment of yet
  bool finished = false;                    ///< every run of the plan is finished (recordings are made by hand)
  std::optional<procedure::Ending> ending;  ///< of the run that ended the call early
};

/// Runs what the plan holds, in its order; open runs are resumed, finished ones skipped unless `again`. Between the
/// repeats of a run its questions are evaluated, and reading stops when they are decided.
/// Errors: those of run_procedure. Whatever was read is kept.
[[nodiscard]] Result<LoanOutcome> run_plan(store::Bench& bench, const store::LoanRecord& loan,
                                           const procedure::Plan& plan, Devices& devices, bool again,
                                           const RunHooks& hooks);

struct Evaluation {
  std::vector<store::FindingRecord> findings;
  std::vector<store::VerdictRecord> verdicts;  ///< finding = index into findings
  std::vector<store::QuestionRecord> questions;
  std::vector<std::string> notes;  ///< attachments that gave no finding, each with why
};

/// Findings from the newest run of each procedure (finished ones before open ones) and the newest attachment of each
/// recording's step, and verdicts on every question that a finding answers; nothing is stored. `software` is kept with
/// each finding. Errors: not_found without readings; invalid_input naming the reading that cannot be used.
[[nodiscard]] Result<Evaluation> computed(const store::Bench& bench, const store::LoanRecord& loan, Timestamp now,
                                          const std::string& software);
/// The same, stored as the latest set.
[[nodiscard]] Result<Evaluation> evaluate(store::Bench& bench, const store::LoanRecord& loan, Timestamp now,
                                          const std::string& software);

struct ImportOutcome {
  store::Id run = 0;
  instrument::ImportReport report;
  std::size_t stored = 0;
};

/// Imports a file as one finished run of `procedure`. All rows that could be read are stored in one transaction; the
/// report names those refused. Errors: those of import_file; invalid_input if no row can be used, a step is none of the
/// procedure's, or a row's code values are not known.
[[nodiscard]] Result<ImportOutcome> import_run(store::Bench& bench, const store::LoanRecord& loan,
                                               const std::string& procedure, const std::string& path,
                                               instrument::ImportOptions options, Timestamp now);

/// The same of a file's content; `name` stands for it in errors and in the run's origin.
[[nodiscard]] Result<ImportOutcome> import_run(store::Bench& bench, const store::LoanRecord& loan,
                                               const std::string& procedure, const std::string& name,
                                               const std::string& bytes, instrument::ImportOptions options,
                                               Timestamp now);

/// The signals a procedure would show for this loan (procedure/estimate.h). Errors: not_found for an unknown procedure.
[[nodiscard]] Result<std::vector<procedure::NamedSignal>> signals_of(const store::Bench& bench,
                                                                     const store::LoanRecord& loan,
                                                                     const std::string& procedure);

/// not_found, naming the procedures there are.
[[nodiscard]] tl::unexpected<Error> unknown_procedure(const std::string& id);

/// Everything the report shows. `invented` is set for simulated displays and requirement sets that say so.
[[nodiscard]] Result<report::Contents> contents_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                   Timestamp now, const std::string& software);

}  // namespace provenit::loan
