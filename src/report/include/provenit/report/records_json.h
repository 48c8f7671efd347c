#pragma once
// Each record as it stands in a report's JSON, and in a server's answers.
#include <nlohmann/json.hpp>

#include "provenit/report/document.h"

namespace provenit::report {

using Json = nlohmann::ordered_json;

/// ISO 8601, or null for the time 0 of an unset record.
[[nodiscard]] Json time_json(Timestamp time);
/// null for a value that is not finite: an interval open on that side.
[[nodiscard]] Json number_json(double value);
/// Sorted ids as runs of neighbours: {1,2,3,7} -> [[1,3],[7,7]].
[[nodiscard]] std::vector<std::pair<store::Id, store::Id>> ranges(std::vector<store::Id> ids);

[[nodiscard]] Json display_json(const store::DisplayRecord& record);
[[nodiscard]] Json instrument_json(const store::InstrumentRecord& record);
[[nodiscard]] Json room_json(const store::RoomRecord& record);
/// A question as its set asks it, without what became of it.
[[nodiscard]] Json set_question_json(const store::QuestionRecord& question);
/// Every question with what became of it; of `contents`, readings are not looked at. Errors: as Document::build.
[[nodiscard]] Result<Json> questions_json(const Contents& contents);
/// How many of these came to which outcome.
[[nodiscard]] Json summary_json(const Json& questions);
[[nodiscard]] Json loan_json(const store::LoanRecord& record);
[[nodiscard]] Json run_json(const RunContents& contents);
/// What the file is, of what, when, its hash, and the findings that were read from it.
[[nodiscard]] Json attachment_json(const store::AttachmentRecord& record,
                                   const std::vector<store::FindingRecord>& findings);
/// The correction that a finding proves; empty if its quantity is not of a correction's proof.
[[nodiscard]] std::optional<store::Id> correction_of(const store::FindingRecord& finding);
/// Ids of the findings that prove this correction.
[[nodiscard]] std::vector<store::Id> proof_of(const store::CorrectionRecord& record,
                                              const std::vector<store::FindingRecord>& findings);
/// What the table is, what it was solved from and for, its file's hash, and the findings that prove it.
[[nodiscard]] Json correction_json(const store::CorrectionRecord& record,
                                   const std::vector<store::FindingRecord>& findings);
[[nodiscard]] Json finding_json(const store::FindingRecord& record);
/// Every quantity of the catalogue by key: title, unit, procedure, conditions, meaning.
[[nodiscard]] Json quantities_json();
/// {"columns": [...], "rows": [[...], ...]}: what the page's table of raw readings shows.
[[nodiscard]] Json readings_json(const std::vector<RunContents>& runs);

}  // namespace provenit::report
