#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <map>

#include "bench_impl.h"
#include "reading_hash.h"

namespace provenit::store {
namespace {

using detail::ChainTail;
using detail::json_text;
using detail::refuse;
using detail::RowReader;

void require_finite(double value, const char* field) {
  if (!std::isfinite(value))
    refuse(ErrorCode::invalid_input, fmt::format("a reading cannot hold {}", value), "Read again.", {.field = field});
}

void require_sound(const ReadingRecord& r) {
  if (const auto ok = signal::validate(r.signal); !ok)
    refuse(ok.error().code, ok.error().message, ok.error().advice, {.field = "signal." + ok.error().where.field});
  if (r.repeat < 0) refuse(ErrorCode::out_of_range, "a repeat is counted from 0", {}, {.field = "repeat"});
  const auto& m = r.measurement;
  require_finite(r.taken.unix_s, "taken");
  require_finite(m.xyz.X, "X");
  require_finite(m.xyz.Y, "Y");
  require_finite(m.xyz.Z, "Z");
  require_finite(m.integration.s, "integration");
  if (!m.spectrum) return;
  require_finite(m.spectrum->start_nm, "spectrum.start_nm");
  require_finite(m.spectrum->step_nm, "spectrum.step_nm");
  if (m.spectrum->step_nm <= 0 || m.spectrum->radiance.empty())
    refuse(ErrorCode::out_of_range, "a spectrum needs a step above 0 nm and at least one value", {},
           {.field = "spectrum"});
  for (const double value : m.spectrum->radiance) require_finite(value, "spectrum.radiance");
}

/// Adds readings with statements prepared once, and keeps the tail of each run's chain meanwhile. Lives inside one
/// write transaction.
class ReadingWriter {
 public:
  explicit ReadingWriter(SQLite::Database& db)
      : db_(db),
        find_signal_(db, "SELECT id FROM signals WHERE content = ?"),
        add_signal_(db, "INSERT INTO signals (content) VALUES (?)"),
        add_(db,
             "INSERT INTO readings (run, sequence, step, repeat, taken, signal, x_cdm2, y_cdm2, z_cdm2, integration_s, "
             "saturated, below_range, spectrum_start_nm, spectrum_step_nm, spectrum, raw_reply, context, hash) "
             "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)") {}

  Id add(const ReadingRecord& r) {
    require_sound(r);
    auto& tail = tail_of(r.run);
    require_next(r, tail);
    const auto signal = signal::to_json(r.signal).dump(), context = json_text(r.context, "context");
    const auto spectrum = r.measurement.spectrum ? detail::little_endian_bytes(r.measurement.spectrum->radiance) : "";
    auto hash = detail::reading_hash(tail.hash, r, signal, spectrum, context);
    bind(r, signal_id(signal), spectrum, context, hash);
    add_.exec();
    tail.hash = std::move(hash);
    ++tail.next_sequence;
    return db_.getLastInsertRowid();
  }

 private:
  ChainTail& tail_of(Id run) {
    const auto found = tails_.find(run);
    return found != tails_.end() ? found->second : tails_.emplace(run, detail::chain_tail(db_, run)).first->second;
  }

  static void require_next(const ReadingRecord& r, const ChainTail& tail) {
    if (tail.state != RunState::open)
      refuse(ErrorCode::conflict,
             fmt::format("run {} has ended ({}) and takes no more readings", r.run, name_of(tail.state)),
             "Begin a new run.");
    if (r.sequence < tail.next_sequence)
      refuse(ErrorCode::conflict, fmt::format("run {} has its reading number {} already", r.run, r.sequence),
             "Another program may be running the same run: stop one of them, then resume.");
    if (r.sequence > tail.next_sequence)
      refuse(ErrorCode::conflict,
             fmt::format("the next reading of run {} is number {}, not {}", r.run, tail.next_sequence, r.sequence),
             "Add the readings of a run in order.");
  }

  Id signal_id(const std::string& content) {
    if (const auto known = signals_.find(content); known != signals_.end()) return known->second;
    find_signal_.reset();
    find_signal_.bind(1, content);
    Id id = 0;
    if (find_signal_.executeStep()) {
      id = find_signal_.getColumn(0).getInt64();
      find_signal_.reset();
    } else {
      add_signal_.reset();
      add_signal_.bind(1, content);
      add_signal_.exec();
      id = db_.getLastInsertRowid();
    }
    return signals_.emplace(content, id).first->second;
  }

  void bind(const ReadingRecord& r, Id signal, const std::string& spectrum, const std::string& context,
            const std::string& hash) {
    const auto& m = r.measurement;
    add_.reset();
    int i = 0;
    add_.bind(++i, r.run);
    add_.bind(++i, r.sequence);
    add_.bind(++i, r.step);
    add_.bind(++i, r.repeat);
    add_.bind(++i, r.taken.unix_s);
    add_.bind(++i, signal);
    for (const double value : {m.xyz.X, m.xyz.Y, m.xyz.Z, m.integration.s}) add_.bind(++i, value);
    add_.bind(++i, m.saturated ? 1 : 0);
    add_.bind(++i, m.below_range ? 1 : 0);
    if (m.spectrum) {
      add_.bind(++i, m.spectrum->start_nm);
      add_.bind(++i, m.spectrum->step_nm);
      add_.bind(++i, spectrum.data(), static_cast<int>(spectrum.size()));
    } else {
      for (int k = 0; k < 3; ++k) add_.bind(++i);
    }
    // data() is never null, so that an empty reply is an empty BLOB and not NULL
    add_.bind(++i, m.raw_reply.data(), static_cast<int>(m.raw_reply.size()));
    add_.bind(++i, context);
    add_.bind(++i, hash);
  }

  SQLite::Database& db_;
  SQLite::Statement find_signal_, add_signal_, add_;
  std::map<Id, ChainTail> tails_;
  std::map<std::string, Id> signals_;
};

constexpr const char* select_readings =
    "SELECT readings.*, signals.content AS signal_content FROM readings JOIN signals ON signals.id = readings.signal ";

/// Rows of select_readings as records. Equal signals are parsed once.
class ReadingReader {
 public:
  ReadingRecord operator()(const RowReader& row) {
    ReadingRecord r{.id = row.integer("id"),
                    .run = row.integer("run"),
                    .sequence = row.integer("sequence"),
                    .step = row.text("step"),
                    .repeat = row.small_integer("repeat"),
                    .taken = {row.number("taken")},
                    .signal = signal_of(row),
                    .context = row.json("context")};
    auto& m = r.measurement;
    m.xyz = {.X = row.number("x_cdm2"), .Y = row.number("y_cdm2"), .Z = row.number("z_cdm2")};
    m.integration = {row.number("integration_s")};
    m.saturated = row.flag("saturated");
    m.below_range = row.flag("below_range");
    m.raw_reply = row.text("raw_reply");
    if (const auto start = row.maybe_number("spectrum_start_nm"))
      m.spectrum = {.start_nm = *start,
                    .step_nm = row.number("spectrum_step_nm"),
                    .radiance = detail::doubles_from_little_endian(row.text("spectrum"))};
    return r;
  }

 private:
  const signal::Signal& signal_of(const RowReader& row) {
    const Id id = row.integer("signal");
    if (const auto known = signals_.find(id); known != signals_.end()) return known->second;
    const auto read = signal::signal_from_json(row.json("signal_content"));
    if (!read)
      refuse(ErrorCode::invalid_input, "its signal cannot be read: " + read.error().text(),
             "The bench is damaged; use a copy of it.", {.reading = row.integer("id")});
    return signals_.emplace(id, *read).first->second;
  }
  std::map<Id, signal::Signal> signals_;
};

std::string start_of_chain(const RowReader& run) {
  return detail::run_hash(run.text("procedure"), run.small_integer("procedure_version"), run.text("parameters"),
                          run.number("started"), run.text("origin"));
}

/// Checks one run's chain from its beginning to its end.
void verify_run(SQLite::Database& db, Id run) {
  SQLite::Statement head(db, "SELECT * FROM runs WHERE id = ?");
  head.bind(1, run);
  head.executeStep();
  const RowReader r(head);
  auto hash = start_of_chain(r);
  SQLite::Statement query(db, std::string(select_readings) + "WHERE run = ? ORDER BY sequence");
  query.bind(1, run);
  ReadingReader read;
  std::int64_t sequence = 0;
  for (const RowReader row(query); query.executeStep(); ++sequence) {
    const auto reading = read(row);
    const auto at = [&](std::string what) {
      refuse(ErrorCode::invalid_input, std::move(what),
             "The bench was changed outside this program. Restore it from a backup, or leave this run out.",
             {.reading = reading.id});
    };
    if (reading.sequence != sequence) at(fmt::format("reading number {} of run {} is missing", sequence, run));
    hash = detail::reading_hash(hash, reading, row.text("signal_content"), row.text("spectrum"), row.text("context"));
    if (hash != row.text("hash")) at(fmt::format("reading number {} of run {} is not what was stored", sequence, run));
  }
  if (r.text("state") != name_of(RunState::open) &&
      (r.integer("closing_count") != sequence || r.text("closing_hash") != hash))
    refuse(ErrorCode::invalid_input,
           fmt::format("run {} ended with {} readings but has {}", run, r.integer("closing_count"), sequence),
           "The bench was changed outside this program. Restore it from a backup, or leave this run out.");
}

}  // namespace

Result<Id> Bench::add_reading(const ReadingRecord& record) {
  return impl_->write([&] { return ReadingWriter(impl_->db).add(record); });
}

Result<void> Bench::add_readings(std::span<const ReadingRecord> records) {
  return impl_->write([&] {
    ReadingWriter writer(impl_->db);
    for (const auto& record : records) writer.add(record);
  });
}

Result<std::vector<ReadingRecord>> Bench::readings(Id run) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, std::string(select_readings) + "WHERE run = ? ORDER BY sequence");
    query.bind(1, run);
    return detail::read_rows(query, ReadingReader());
  });
}

Result<std::vector<ReadingRecord>> Bench::readings(const ReadingQuery& query) const {
  return impl_->guarded([&] {
    std::string where;
    std::vector<Id> values;
    const auto narrow = [&](const std::string& condition, Id value) {
      if (value == 0) return;
      where += where.empty() ? " WHERE " : " AND ";
      where += condition;
      values.push_back(value);
    };
    narrow("run = ?", query.run);
    narrow("run IN (SELECT id FROM runs WHERE loan = ?)", query.loan);
    // The plus sign keeps SQLite from walking all readings by their ids in search of those of a few runs.
    const std::string id = where.empty() ? "id" : "+id";
    narrow(id + " > ?", query.after);
    narrow(id + " <= ?", query.up_to);
    where += " ORDER BY " + id + (query.limit < 0 ? " DESC" : "");
    if (query.limit != 0) where += fmt::format(" LIMIT {}", std::abs(query.limit));
    // Ids first, from an index alone; then only the rows that are wanted.
    SQLite::Statement select(impl_->db, fmt::format("{}WHERE readings.id IN (SELECT id FROM readings{}) "
                                                    "ORDER BY readings.id",
                                                    select_readings, where));
    for (int i = 0; i < static_cast<int>(values.size()); ++i) select.bind(i + 1, values[i]);
    return detail::read_rows(select, ReadingReader());
  });
}

Result<std::string> Bench::chain_hash(Id run, std::int64_t readings) const {
  return impl_->read([&] {
    detail::require_row(impl_->db, "runs", "run", run);
    if (readings <= 0) {
      SQLite::Statement head(impl_->db, "SELECT * FROM runs WHERE id = ?");
      head.bind(1, run);
      head.executeStep();
      return start_of_chain(RowReader(head));
    }
    SQLite::Statement query(impl_->db, "SELECT hash FROM readings WHERE run = ? AND sequence = ?");
    query.bind(1, run);
    query.bind(2, readings - 1);
    if (!query.executeStep())
      refuse(ErrorCode::not_found, fmt::format("run {} has fewer than {} readings", run, readings),
             "Count them first.");
    return query.getColumn(0).getString();
  });
}

Result<void> Bench::verify_readings() const {
  return impl_->read([&] {
    SQLite::Statement runs(impl_->db, "SELECT id FROM runs ORDER BY id");
    while (runs.executeStep()) verify_run(impl_->db, runs.getColumn(0).getInt64());
  });
}

}  // namespace provenit::store
