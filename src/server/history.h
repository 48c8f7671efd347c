#pragma once
// What people described here, so that it can be taken back and done again. It lives as long as the server; readings,
// findings and files are not part of it: they stay.
#include <mutex>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "provenit/report/records_json.h"
#include "provenit/store/bench.h"

namespace provenit::server {

using Record = std::variant<store::DisplayRecord, store::InstrumentRecord, store::RoomRecord, store::LoanRecord,
                            store::QuestionRecord>;

class History {
 public:
  /// Puts the records, all or none, as one edit. Returns their ids. Errors: those of Bench::put.
  [[nodiscard]] Result<std::vector<store::Id>> put(store::Bench& bench, const std::string& text,
                                                   std::vector<Record> records, Timestamp now);
  /// Takes the newest edit back. Errors: not_found if there is none; conflict if a record is not as the edit left it,
  /// or one that it added is in use. Nothing is changed then.
  [[nodiscard]] Result<void> undo(store::Bench& bench);
  /// Does the last one that was taken back again. Errors: as undo.
  [[nodiscard]] Result<void> redo(store::Bench& bench);
  /// Schema Edits of openapi.json.
  [[nodiscard]] report::Json json() const;

 private:
  struct Change {
    Record record;                 // as the edit left it, with its id
    std::optional<Record> before;  // not set: the edit added it
  };
  struct Edit {
    int number = 0;
    Timestamp at;
    std::string text;
    std::vector<Change> changes;
  };

  mutable std::mutex mutex_;
  std::vector<Edit> edits_;
  std::size_t done_ = 0;  // those before it stand; the others were taken back
  int numbered_ = 0;
};

}  // namespace provenit::server
