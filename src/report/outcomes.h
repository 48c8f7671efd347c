#pragma once
// What became of each question: the verdict, the plain answer, or why there is none.
#include <string>
#include <vector>

#include "provenit/report/document.h"

namespace provenit::report {

struct Outcome {
  std::string name;  ///< meets, fails, undecided, answered, unanswered
  const store::QuestionRecord* question = nullptr;
  const store::FindingRecord* finding = nullptr;  ///< null: unanswered
  const store::VerdictRecord* verdict = nullptr;  ///< null: an open question, or unanswered
  std::string missing;                            ///< unanswered: not_run, not_finished or no_finding
};

/// One outcome per question, in their order. The pointers are into `contents`.
/// Errors: invalid_input for a verdict whose question or finding is not there.
[[nodiscard]] Result<std::vector<Outcome>> outcomes(const Contents& contents);

}  // namespace provenit::report
