#pragma once
// Before a plan is run: the questions it is made for, and what it says to people and to programs.
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/procedure/planner.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// The set's questions as those of the loan: one that the loan has already (same set and key) keeps its id, so that
/// putting it replaces it; the others have none yet.
[[nodiscard]] Result<std::vector<store::QuestionRecord>> questions_of(const store::Bench& bench,
                                                                      const store::LoanRecord& loan,
                                                                      const evaluation::RequirementSet& set);

/// Total, runs, chances, what is left out and what an hour more buys: docs/workbench.md, schema Plan.
[[nodiscard]] nlohmann::ordered_json to_json(const procedure::Plan& plan);

/// Keeps these procedures, in this order, and drops the rest of the plan; one that the plan lacks is added with its own
/// parameters. Nothing named: everything stays. Errors: not_found, naming the procedures there are.
[[nodiscard]] Result<void> keep_only(procedure::Plan& plan, const std::vector<std::string>& procedures);

/// What holds for every run, sentence by sentence.
[[nodiscard]] std::vector<std::string> usual_cautions();

/// What the signals of the plan ask of the people and the panel; the longest stays come from the procedures themselves.
/// Errors: those of signals_of.
[[nodiscard]] Result<std::vector<std::string>> cautions_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                           const procedure::Plan& plan);

}  // namespace provenit::loan
