#pragma once
#include "database.h"
#include "open.h"
#include "provenit/store/bench.h"

namespace provenit::store {

struct Bench::Impl {
  std::string path;
  detail::HeldFile file;  // before the connection, and so closed after it
  SQLite::Database db;
  bool together = false;  // inside Bench::together, whose transaction is joined

  template <class F>
  auto guarded(F work) {
    return detail::guarded(path, work);
  }
  /// One write transaction: all of `work` is stored durably when it returns, or nothing.
  template <class F>
  auto write(F work) {
    return detail::guarded(
        path, [&] { return together ? detail::in_savepoint(db, work) : detail::in_transaction(db, work); });
  }
  /// Several queries that see one state of the bench.
  template <class F>
  auto read(F work) {
    return detail::guarded(path, [&] {
      if (together) return work();
      const SQLite::Transaction snapshot(db);  // deferred: takes no write lock; ends when it goes
      return work();
    });
  }
};

}  // namespace provenit::store
