#pragma once
// The bench as a file: made whole or not at all, and never changed while it is not certain that it is a sound bench.
#include <SQLiteCpp/SQLiteCpp.h>

#include <string>

namespace provenit::store::detail {

/// Settings of every connection: foreign keys, wait for other writers, sync at each commit.
void configure(SQLite::Database& db);

/// Opens, checks and migrates. Refuses as Bench::open says.
[[nodiscard]] SQLite::Database open_bench(const std::string& path);

/// Makes a bench at `path`, on the disk when it returns. Refuses as Bench::create says.
void create_bench(const std::string& path, const std::string& title, const std::string& evaluator, double created);

}  // namespace provenit::store::detail
