#pragma once
// The bench file: one SQLite database in WAL mode. One Bench object is used from one thread; several processes may have
// the same file open. Readings are immutable: triggers in the database refuse UPDATE and DELETE.
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::store {

class Bench {
 public:
  /// Makes a new bench: under another name first, so that a file of this name is always a whole one.
  /// Errors: conflict if the file exists, or a log ("-wal") that another bench of this name left behind; io.
  [[nodiscard]] static Result<Bench> create(const std::string& path, const std::string& title,
                                            const std::string& evaluator, Timestamp now);
  /// Opens one, looks for damage and applies pending migrations. A file it refuses is left as it is. Above
  /// kMostCheckedBytes only the tables of what a loan is about are looked through, unless it has to be migrated: damage
  /// elsewhere is told by the call that meets it, by copy and by verify_readings. Errors: not_found; invalid_input if
  /// it is no bench or is damaged; conflict if a newer version wrote it; io, e.g. write-protected.
  [[nodiscard]] static Result<Bench> open(const std::string& path);
  static constexpr std::int64_t kMostCheckedBytes = 256'000'000;

  /// Makes a whole copy of a bench, its log included, as of one moment; also while somebody is writing to it. The bench
  /// itself is only read, looked through whole and not migrated, and a copy of this name is there whole or not at all.
  /// Errors: those of open for `from`; conflict if `to` exists; io.
  [[nodiscard]] static Result<void> copy(const std::string& from, const std::string& to);

  Bench(Bench&&) noexcept;
  Bench& operator=(Bench&&) noexcept;
  ~Bench();

  [[nodiscard]] const std::string& path() const;
  struct Title {
    std::string title, evaluator;
    Timestamp created;
    int schema_version = 0;
  };
  [[nodiscard]] Result<Title> title() const;

  // put: id 0 inserts and returns the new id; another id replaces that row. Errors: not_found if there is none of that
  // id, or a record it names is not there; conflict for a question whose set has its key already; invalid_input naming
  // the field for NaN and, in JSON, for any number that is not finite and text that is not UTF-8. Doubles come back to
  // the bit, but -0.0 as 0.0 (in readings as -0.0).
  [[nodiscard]] Result<Id> put(const DisplayRecord& record);
  [[nodiscard]] Result<Id> put(const InstrumentRecord& record);
  [[nodiscard]] Result<Id> put(const RoomRecord& record);
  [[nodiscard]] Result<Id> put(const LoanRecord& record);
  [[nodiscard]] Result<Id> put(const QuestionRecord& record);

  [[nodiscard]] Result<std::vector<DisplayRecord>> displays() const;
  [[nodiscard]] Result<std::vector<InstrumentRecord>> instruments() const;
  [[nodiscard]] Result<std::vector<RoomRecord>> rooms() const;
  [[nodiscard]] Result<std::vector<LoanRecord>> loans() const;
  [[nodiscard]] Result<DisplayRecord> display(Id id) const;
  [[nodiscard]] Result<InstrumentRecord> instrument(Id id) const;
  [[nodiscard]] Result<RoomRecord> room(Id id) const;
  [[nodiscard]] Result<LoanRecord> loan(Id id) const;
  [[nodiscard]] Result<std::vector<QuestionRecord>> questions(Id loan) const;

  /// Everything that `edit` writes to this bench in one transaction, durably when it returns: other connections see all
  /// of it or nothing, and after an error or a crash nothing is stored. What `edit` reads here has what it wrote. Not
  /// one inside another. Errors: those that `edit` gives; io.
  [[nodiscard]] Result<void> together(const std::function<Result<void>()>& edit);

  /// Takes back a record that was put by mistake. Errors: not_found; conflict if another record refers to it.
  [[nodiscard]] Result<void> remove(RecordKind kind, Id id);

  /// A new open run, whatever the record's state says. Errors: not_found if there is no such loan.
  [[nodiscard]] Result<Id> begin_run(const RunRecord& record);
  /// Errors: not_found; conflict if it has ended already; invalid_input for RunState::open.
  [[nodiscard]] Result<void> end_run(Id run, RunState state, Timestamp at);
  [[nodiscard]] Result<std::vector<RunRecord>> runs(Id loan) const;
  [[nodiscard]] Result<RunRecord> run(Id id) const;

  /// Stored durably when it returns. Errors: conflict if the run is not open, or the sequence number is taken or not
  /// the next one; not_found if there is no such run; invalid_input or out_of_range naming the field for numbers that
  /// are not finite, a spectrum without values and a signal that signal::validate refuses.
  [[nodiscard]] Result<Id> add_reading(const ReadingRecord& record);
  /// All or none (import).
  [[nodiscard]] Result<void> add_readings(std::span<const ReadingRecord> records);
  [[nodiscard]] Result<std::vector<ReadingRecord>> readings(Id run) const;
  /// Those that a query asks for, in the order of their ids.
  [[nodiscard]] Result<std::vector<ReadingRecord>> readings(const ReadingQuery& query) const;
  /// How many readings each run of the loan has, by the run's id; runs without any are not in it.
  [[nodiscard]] Result<std::map<Id, std::int64_t>> reading_counts(Id loan) const;
  /// Readings in the whole bench: the index of the next one.
  [[nodiscard]] Result<std::int64_t> reading_count() const;
  [[nodiscard]] Result<void> add_event(const EventRecord& record);
  [[nodiscard]] Result<std::vector<EventRecord>> events(Id run) const;
  /// Of all runs, those with an id above `after`, in order.
  [[nodiscard]] Result<std::vector<EventRecord>> events_after(Id after) const;
  /// The newest reading and event of the bench; 0 where there is none.
  struct Newest {
    Id reading = 0, event = 0;
  };
  [[nodiscard]] Result<Newest> newest() const;
  /// Another number than before once any other connection, of this program or another, has written to the bench.
  [[nodiscard]] Result<std::int64_t> data_version() const;

  /// Stores findings and their verdicts in one transaction (a later set supersedes the earlier one in latest_findings).
  /// VerdictRecord::finding is the index into `findings` here and becomes the id. FindingRecord::loan is taken from
  /// `loan`. Errors: not_found for a loan, reading or question that is not there; invalid_input for NaN (infinite
  /// limits of an interval are kept) and for a verdict on no finding of this call; nothing is stored then.
  [[nodiscard]] Result<void> put_findings(Id loan, std::span<const FindingRecord> findings,
                                          std::span<const VerdictRecord> verdicts);
  /// Those of the last put_findings.
  [[nodiscard]] Result<std::vector<FindingRecord>> latest_findings(Id loan) const;
  /// The same without what a comparison of many displays does not ask for: series, readings, attachments and sources
  /// are empty.
  [[nodiscard]] Result<std::vector<FindingRecord>> latest_figures(Id loan) const;
  [[nodiscard]] Result<std::vector<VerdictRecord>> latest_verdicts(Id loan) const;

  /// Keeps a file as it is, durably when it returns; id, content_hash and bytes of the record are not looked at.
  /// Errors: not_found for a loan or run that is not there; conflict if the loan has the same file for the same
  /// recording under the same conditions; invalid_input for an empty file or what JSON cannot hold; out_of_range above
  /// kMostBytes.
  [[nodiscard]] Result<Id> add_attachment(const AttachmentRecord& record, std::string_view content);
  /// Largest file that one row of the database holds, with room for the rest of the row.
  static constexpr std::int64_t kMostBytes = 900'000'000;
  /// Of a loan, in the order they were added; without their content.
  [[nodiscard]] Result<std::vector<AttachmentRecord>> attachments(Id loan) const;
  /// The file's bytes. Errors: not_found; invalid_input if they are not those that were stored.
  [[nodiscard]] Result<std::string> attachment_content(Id attachment) const;

  /// Keeps a correction's file as it is, durably when it returns; id, content_hash and bytes of the record are not
  /// looked at. Errors: not_found for a loan or run that is not there; out_of_range for an empty file or one above
  /// kMostBytes; invalid_input for what JSON cannot hold.
  [[nodiscard]] Result<Id> add_correction(const CorrectionRecord& record, std::string_view content);
  /// Of a loan, in the order they were added; without their content.
  [[nodiscard]] Result<std::vector<CorrectionRecord>> corrections(Id loan) const;
  /// The file's bytes. Errors: not_found; invalid_input if they are not those that were stored.
  [[nodiscard]] Result<std::string> correction_content(Id correction) const;

  /// Stores a survey with the chunks that `next_chunk` hands over until nullopt: all or nothing. Errors: conflict if a
  /// survey of this hash is there; invalid_input if the frames are not as many as the record says; those of next_chunk.
  [[nodiscard]] Result<Id> add_survey(const SurveyRecord& record,
                                      const std::function<Result<std::optional<SurveyChunk>>()>& next_chunk);
  [[nodiscard]] Result<std::vector<SurveyRecord>> surveys() const;
  /// Errors: not_found.
  [[nodiscard]] Result<SurveyRecord> survey(Id id) const;
  /// In order; stops with the error that `take` gives.
  [[nodiscard]] Result<void> for_each_survey_chunk(Id survey,
                                                   const std::function<Result<void>(const SurveyChunk&)>& take) const;
  /// The chunk with the frame at a position of the survey, counted from 0, and the position of the chunk's first.
  /// Errors: not_found; out_of_range beyond the survey's end.
  struct PlacedChunk {
    std::int64_t first = 0;
    SurveyChunk chunk;
  };
  [[nodiscard]] Result<PlacedChunk> survey_chunk_at(Id survey, std::int64_t position) const;

  /// Hash that a run's chain has after its first `readings` readings: runs of the same hash hold the same readings to
  /// the bit. Errors: not_found if there is no such run, or it has fewer.
  [[nodiscard]] Result<std::string> chain_hash(Id run, std::int64_t readings) const;
  /// Recomputes the chained hash of every reading and compares it with the one stored. Errors: invalid_input naming the
  /// first reading that does not match.
  [[nodiscard]] Result<void> verify_readings() const;
  /// The same for attachments: content, conditions and order. Errors: invalid_input naming the first that does not
  /// match.
  [[nodiscard]] Result<void> verify_attachments() const;

 private:
  struct Impl;
  explicit Bench(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::store
