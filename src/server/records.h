#pragma once
// Records as the schemas of openapi.json have them, where the report's own JSON does not do.
#include <map>
#include <string>

#include "provenit/report/records_json.h"
#include "provenit/store/bench.h"

namespace provenit::server {

/// The report's JSON of the record, with its id first.
template <class Record>
[[nodiscard]] report::Json with_id(const Record& record, report::Json (*json)(const Record&)) {
  report::Json out = {{"id", record.id}};
  out.update(json(record));
  return out;
}

[[nodiscard]] report::Json loan_record_json(const store::LoanRecord& loan);

/// Schema Reading.
[[nodiscard]] report::Json reading_json(const store::ReadingRecord& reading, const store::RunRecord& run);
/// Of several; each run is looked up once. Errors: those of Bench::run.
[[nodiscard]] Result<report::Json> readings_json(const store::Bench& bench,
                                                 const std::vector<store::ReadingRecord>& readings);

/// Everything of a loan but its readings, the files' contents and the surveys: what questions_json looks at, and runs
/// with their events. Errors: those of the bench.
[[nodiscard]] Result<report::Contents> contents_without_readings(const store::Bench& bench,
                                                                 const store::LoanRecord& loan, bool with_events);

/// When the newest findings were computed; null if there are none.
[[nodiscard]] report::Json evaluated_json(const std::vector<store::FindingRecord>& findings);
/// Something was read or attached that no finding can have seen. Errors: those of the bench.
[[nodiscard]] Result<bool> is_stale(const store::Bench& bench, const report::Contents& contents);

}  // namespace provenit::server
