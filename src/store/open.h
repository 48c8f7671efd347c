#pragma once
// The bench as a file: made whole or not at all, and never changed while it is not certain that it is a sound bench.
#include <SQLiteCpp/SQLiteCpp.h>

#include <string>
#include <utility>

namespace provenit::store::detail {

/// The bench's file, kept open until the last connection of this process is closed, and never opened twice: SQLite's
/// locks are of the kind that a process loses, all of them, when it closes any descriptor of the file. Another program
/// would then take itself for the only one, and remove the log that is in use here.
class HeldFile {
 public:
  /// Looks at the file's first 100 bytes (SQLite file format, section 1.3) without SQLite, which could change the file.
  /// Refuses as Bench::open says.
  explicit HeldFile(const std::string& path);
  HeldFile(HeldFile&& other) noexcept : id_(std::exchange(other.id_, {})) {}
  HeldFile& operator=(HeldFile&&) = delete;
  ~HeldFile();

 private:
  std::pair<unsigned long long, unsigned long long> id_;  // device and inode; {0, 0}: moved from
};

/// Settings of every connection: foreign keys, wait for other writers, sync at each commit.
void configure(SQLite::Database& db);

/// Opens, checks and migrates what a HeldFile has found to be a bench. Refuses as Bench::open says.
[[nodiscard]] SQLite::Database open_bench(const std::string& path);

/// Makes a bench at `path`, on the disk when it returns. Refuses as Bench::create says.
void create_bench(const std::string& path, const std::string& title, const std::string& evaluator, double created);

/// Copies what a HeldFile has found to be a bench, log included, to a new file; nothing at or beside `from` is written.
/// Refuses as Bench::copy says.
void copy_bench(const std::string& from, const std::string& to);

}  // namespace provenit::store::detail
