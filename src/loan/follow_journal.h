#pragma once
// Every reading taken while following a clip, one JSON line each, durable before it is used.
#include <string>
#include <vector>

#include "provenit/procedure/follow_along.h"

namespace provenit::loan {

struct JournalEntry {
  Timestamp from, to;
  instrument::Measurement measurement;
  [[nodiscard]] procedure::TimedReading timed() const { return {from, to, measurement.xyz.Y}; }
};

class FollowJournal {
 public:
  /// Opens it, or begins one for this clip and loan. A last line that was cut short is taken off. Errors: io;
  /// invalid_input naming the line; conflict if it is of another clip or loan.
  [[nodiscard]] static Result<FollowJournal> open(const std::string& path, const std::string& clip, std::int64_t loan);
  /// Those of a journal that may not be there (then none).
  [[nodiscard]] static Result<std::vector<JournalEntry>> read(const std::string& path, const std::string& clip,
                                                              std::int64_t loan);
  FollowJournal(FollowJournal&& other) noexcept;
  FollowJournal(const FollowJournal&) = delete;
  ~FollowJournal();

  [[nodiscard]] const std::vector<JournalEntry>& entries() const { return entries_; }
  /// Durable when it returns. Errors: io.
  [[nodiscard]] Result<void> add(const JournalEntry& entry);

 private:
  FollowJournal() = default;
  [[nodiscard]] Result<void> write(const std::string& line);
  std::string path_;
  int descriptor_ = -1;
  std::vector<JournalEntry> entries_;
};

}  // namespace provenit::loan
