#pragma once
// The one document model of a report: the records of a loan in, JSON out. The page (html.h) and the data package
// (package.h) both come from it. Pure: time, version and hashes are passed in.
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::report {

/// One run with everything that was read or happened in it, in order of sequence.
struct RunContents {
  store::RunRecord run;
  std::vector<store::ReadingRecord> readings;
  std::vector<store::EventRecord> events;
};

/// A hash worth printing: a requirement set, an instrument description, the bench's chain of readings.
struct NamedHash {
  std::string name;    ///< what was hashed, for people
  std::string sha256;  ///< lower-case hexadecimal
};

/// What a report is made of. Unused records keep their defaults: a loan without a room has room.id 0.
struct Contents {
  std::string title;      ///< of the bench
  std::string evaluator;  ///< who evaluated, as the bench has it
  store::DisplayRecord display;
  store::InstrumentRecord instrument;
  store::RoomRecord room;
  store::LoanRecord loan;
  std::vector<store::QuestionRecord> questions;  ///< in the order they are to be shown
  std::vector<RunContents> runs;
  std::vector<store::AttachmentRecord> attachments;  ///< files that the loan keeps, without their content
  std::vector<store::CorrectionRecord> corrections;  ///< tables that were solved for the loan, without their content
  std::vector<store::FindingRecord> findings;        ///< latest set
  std::vector<store::VerdictRecord> verdicts;        ///< `question` and `finding` are ids of the records above
  std::vector<nlohmann::ordered_json> titles;        ///< surveyed programmes, as programme::title_document gives them
  std::vector<NamedHash> hashes;
  std::vector<std::string> without;  ///< sections and charts that the page leaves out, by their names in docs/report.md
  bool invented = false;  ///< display, lab and readings are invented or simulated: the page says so at its top
  Timestamp written;      ///< when the report is made
  std::string software;   ///< "provenit 0.1.0": the version that makes it
};

class Document {
 public:
  /// Checks that the records fit together and lays them out as JSON (schema "provenit-report/1", docs/report.md).
  /// Every question gets an outcome: meets, fails, undecided, answered (an open question with a finding) or unanswered
  /// (no finding; the reason in words).
  /// A question without a verdict takes its finding by quantity and conditions.
  /// Errors: invalid_input naming the record if a verdict points to a question or finding that is not there, a
  /// quantity is not in the catalogue, a finding's numbers are not finite or its interval is upside down, two records
  /// share an id, a finding names an attachment or a correction that is not there, or a text is not UTF-8.
  [[nodiscard]] static Result<Document> build(const Contents& contents);

  [[nodiscard]] const nlohmann::ordered_json& json() const { return json_; }
  /// Indented JSON, UTF-8, with a closing newline: report.json of the data package.
  [[nodiscard]] std::string text() const;

 private:
  explicit Document(nlohmann::ordered_json json) : json_(std::move(json)) {}
  nlohmann::ordered_json json_;
};

}  // namespace provenit::report
