#include <fmt/format.h>

#include "bench_impl.h"
#include "reading_hash.h"

namespace provenit::store {
namespace {

using detail::RowReader;

RunRecord run_from(const RowReader& row) {
  const auto ended = row.maybe_number("ended");
  return {.id = row.integer("id"),
          .loan = row.integer("loan"),
          .procedure = row.text("procedure"),
          .procedure_version = row.small_integer("procedure_version"),
          .parameters = row.json("parameters"),
          .state = row.named("state", &run_state_from_name),
          .started = {row.number("started")},
          .ended = ended ? std::optional(Timestamp{*ended}) : std::nullopt,
          .origin = row.text("origin")};
}

EventRecord event_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .run = row.integer("run"),
          .at = {row.number("at")},
          .kind = row.text("kind"),
          .text = row.text("text")};
}

}  // namespace

Result<Id> Bench::begin_run(const RunRecord& record) {
  return impl_->write([&] {
    detail::require_row(impl_->db, "loans", "loan", record.loan);
    return detail::insert_row(impl_->db, "runs",
                              {{"loan", record.loan},
                               {"procedure", record.procedure},
                               {"procedure_version", record.procedure_version},
                               {"parameters", detail::json_text(record.parameters, "parameters")},
                               {"state", name_of(RunState::open)},
                               {"started", record.started.unix_s},
                               {"origin", record.origin}});
  });
}

Result<void> Bench::end_run(Id run, RunState state, Timestamp at) {
  return impl_->write([&] {
    if (state == RunState::open)
      detail::refuse(ErrorCode::invalid_input, "a run cannot end open", "End it finished or aborted.");
    const auto tail = detail::chain_tail(impl_->db, run);
    if (tail.state != RunState::open)
      detail::refuse(ErrorCode::conflict, fmt::format("run {} has ended already ({})", run, name_of(tail.state)),
                     "Begin a new run.");
    detail::put_row(impl_->db, "runs", "run", run,
                    {{"state", name_of(state)},
                     {"ended", at.unix_s},
                     {"closing_count", tail.next_sequence},
                     {"closing_hash", tail.hash}});
  });
}

Result<std::vector<RunRecord>> Bench::runs(Id loan) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT * FROM runs WHERE loan = ? ORDER BY id");
    query.bind(1, loan);
    return detail::read_rows(query, run_from);
  });
}

Result<RunRecord> Bench::run(Id id) const {
  return impl_->read([&] {
    detail::require_row(impl_->db, "runs", "run", id);
    SQLite::Statement query(impl_->db, "SELECT * FROM runs WHERE id = ?");
    query.bind(1, id);
    query.executeStep();
    return run_from(RowReader(query));
  });
}

Result<std::map<Id, std::int64_t>> Bench::reading_counts(Id loan) const {
  return impl_->guarded([&] {
    // Readings of a run are numbered 0, 1, 2 ... and never removed: the last number says how many there are.
    SQLite::Statement query(impl_->db,
                            "SELECT id, (SELECT max(sequence) + 1 FROM readings WHERE run = runs.id) AS readings "
                            "FROM runs WHERE loan = ?");
    query.bind(1, loan);
    std::map<Id, std::int64_t> counts;
    for (const RowReader row(query); query.executeStep();)
      if (const auto readings = row.integer("readings"); readings > 0) counts[row.integer("id")] = readings;
    return counts;
  });
}

Result<std::int64_t> Bench::reading_count() const {
  // Ids go 1, 2, 3 ... in a bench that only this library writes to: counting rows would read an index of them all.
  return impl_->guarded([&] { return impl_->db.execAndGet("SELECT coalesce(max(id), 0) FROM readings").getInt64(); });
}

Result<void> Bench::add_event(const EventRecord& record) {
  return impl_->write([&] {
    detail::require_row(impl_->db, "runs", "run", record.run);
    detail::insert_row(impl_->db, "events",
                       {{"run", record.run}, {"at", record.at.unix_s}, {"kind", record.kind}, {"text", record.text}});
  });
}

Result<std::vector<EventRecord>> Bench::events(Id run) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT * FROM events WHERE run = ? ORDER BY id");
    query.bind(1, run);
    return detail::read_rows(query, event_from);
  });
}

Result<std::vector<EventRecord>> Bench::events_after(Id after) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT * FROM events WHERE id > ? ORDER BY id");
    query.bind(1, after);
    return detail::read_rows(query, event_from);
  });
}

Result<Bench::Newest> Bench::newest() const {
  return impl_->read([&] {
    return Newest{.reading = impl_->db.execAndGet("SELECT coalesce(max(id), 0) FROM readings").getInt64(),
                  .event = impl_->db.execAndGet("SELECT coalesce(max(id), 0) FROM events").getInt64()};
  });
}

Result<std::int64_t> Bench::data_version() const {
  return impl_->guarded([&] { return impl_->db.execAndGet("PRAGMA data_version").getInt64(); });
}

}  // namespace provenit::store
