#include "schema.h"

#include <fmt/format.h>

#include <string>

#include "database.h"
#include "store_assets.h"

namespace provenit::store::detail {

int newest_version() {
  return static_cast<int>(store_assets().size());
}

int stored_version(SQLite::Database& db) {
  return db.execAndGet("PRAGMA user_version").getInt();
}

void refuse_newer(SQLite::Database& db) {
  const int newest = newest_version(), stored = stored_version(db);
  if (stored > newest)
    refuse(
        ErrorCode::conflict,
        fmt::format("a newer program wrote this bench (version {}; this one knows versions up to {})", stored, newest),
        "Use the newer program. The bench has not been changed.");
  if (stored < 0) refuse(ErrorCode::invalid_input, fmt::format("a bench of version {} cannot be", stored));
}

void migrate(SQLite::Database& db) {
  refuse_newer(db);
  const int newest = newest_version();
  if (stored_version(db) == newest) return;
  in_transaction(db, [&] {
    // Read again under the write lock: another process may have migrated meanwhile.
    for (int version = stored_version(db); version < newest; ++version) {
      db.exec(std::string(store_assets()[static_cast<std::size_t>(version)].second));
      db.exec(fmt::format("PRAGMA user_version = {}", version + 1));
    }
  });
}

}  // namespace provenit::store::detail
