#pragma once
// The shape of the bench and how an older one is brought up to it: the files of schema/, in the order of their numbers.
// File number n takes a bench of version n - 1 to version n; PRAGMA user_version holds the version.
#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>

namespace provenit::store::detail {

/// "PVNT" in the file's header (offset 68): tells a bench from any other SQLite database.
inline constexpr std::uint32_t application_id = 0x50564E54;

/// The version this program writes.
[[nodiscard]] int newest_version();
[[nodiscard]] int stored_version(SQLite::Database& db);

/// Refuses a version above newest_version() (conflict) and one below 0 (invalid_input). Nothing is written.
void refuse_newer(SQLite::Database& db);

/// Brings the bench to newest_version() in one transaction; does nothing if it is there. Refuses what
/// refuse_newer refuses before anything is written.
void migrate(SQLite::Database& db);

}  // namespace provenit::store::detail
