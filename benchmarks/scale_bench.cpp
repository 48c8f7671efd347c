#include "scale_bench.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <utility>
#include <vector>

#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/loan/loan.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/survey.h"
#include "view_clip.h"

namespace provenit::bench {
namespace {

namespace fs = std::filesystem;

constexpr int kEvaluations = 2;  ///< of each loan: the second supersedes the first

template <class T>
T must(Result<T> result) {
  if (!result) {
    fmt::print(stderr, "{}\n", result.error().text());
    std::exit(2);
  }
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

class NoClock final : public Clock {
 public:
  [[nodiscard]] Timestamp now() const override { return {}; }
  void wait(Seconds /*span*/) override {}
};

/// The clip's frames over again up to the length of a film, through the writer of surveys.
void survey_film(const std::string& folder, store::Bench& bench, std::int64_t length) {
  const auto small = folder + "/view.survey", large = folder + "/film.survey";
  must(programme::survey_title(view_clip_path(), small, {.software = "benchmark"}));
  const auto frames = must(must(programme::SurveyFile::open(small)).frames());
  auto header = must(programme::SurveyFile::open(small)).header();
  header.title = "film.mov";
  header.title_frames = header.last = header.measured = length;
  auto writer = must(programme::SurveyWriter::begin(large, header));
  for (std::int64_t i = 0; i < length; ++i) {
    auto frame = frames[static_cast<std::size_t>(i) % frames.size()];
    frame.figures.index = i;
    frame.figures.time_s = static_cast<double>(i) / 24;
    must(writer.append(frame));
  }
  must(writer.finish(header));
  must(programme::move_into_bench(large, bench, {1.8e9}));
}

template <class... Values>
void run(SQLite::Statement& statement, const Values&... values) {
  statement.reset();
  int index = 0;
  (statement.bind(++index, values), ...);
  statement.exec();
}

struct ShapeRun {
  std::int64_t id = 0, readings = 0;
};

/// Writes rows of the real bench ("shape") again, in bulk and through the store's own schema and triggers: the store's
/// calls sync each of them to the disk, which would take a day. A run copied whole keeps a sound chain of hashes.
class Filler {
 public:
  Filler(const std::string& path, const std::string& shape) : db_(opened(path, shape)) {
    // Findings name readings by their ids; a round gives them in the same order.
    if (count(
            "(SELECT id, row_number() OVER (ORDER BY run, sequence) AS place FROM shape.readings) WHERE id <> place") >
        0) {
      fmt::print(stderr, "the readings of the real loan do not follow each other\n");
      std::exit(2);
    }
    SQLite::Statement runs(
        db_,
        "SELECT runs.id, count(readings.id) FROM shape.runs LEFT JOIN shape.readings ON run = runs.id "
        "GROUP BY runs.id ORDER BY runs.id");
    while (runs.executeStep()) runs_.push_back({runs.getColumn(0).getInt64(), runs.getColumn(1).getInt64()});
    for (const char* table : {"signals", "methods", "sources"})
      db_.exec(fmt::format("INSERT INTO main.{0} SELECT * FROM shape.{0}", table));
  }

  void loan(std::int64_t number) {
    db_.exec(
        fmt::format("INSERT INTO displays SELECT {0}, name || ' {0}', technology, encoding, details FROM "
                    "shape.displays; INSERT INTO loans SELECT {0}, {0}, 1, 1, starts + {0} * 86400, ends + {0} * "
                    "86400, purpose, seed + {0} FROM shape.loans",
                    number));
    SQLite::Statement questions(
        db_,
        "INSERT INTO questions SELECT NULL, ?, \"key\", \"set\", text, quantity, conditions, comparison, lower, "
        "upper, unit, clause, source, mark, weight FROM shape.questions ORDER BY id");
    run(questions, number);
    first_question_.push_back(count("questions") - count("shape.questions"));
  }

  /// All runs of the real loan once more.
  void round(std::int64_t loan) {
    if (first_reading_.size() < static_cast<std::size_t>(loan)) first_reading_.push_back(newest("readings"));
    for (const auto& shape : runs_) {
      run(run_, loan, shape.id);
      const std::int64_t id = db_.getLastInsertRowid();
      for (auto* rows : {&readings_, &events_, &end_}) run(*rows, id, shape.id);
    }
  }
  [[nodiscard]] std::int64_t readings_a_round() const {
    std::int64_t sum = 0;
    for (const auto& shape : runs_) sum += shape.readings;
    return sum;
  }

  /// The real loan's findings, on the readings of the loan's first round; without its files.
  void evaluation(std::int64_t loan) {
    const auto reading = first_reading_[static_cast<std::size_t>(loan - 1)],
               question = first_question_[static_cast<std::size_t>(loan - 1)];
    db_.exec(fmt::format("INSERT INTO finding_sets (loan) VALUES ({})", loan));
    const std::int64_t set = db_.getLastInsertRowid();
    for (std::int64_t f = 1, all = count("shape.findings"); f <= all; ++f) {
      run(finding_, set, f);
      const std::int64_t id = db_.getLastInsertRowid();
      run(links_, id, reading, f);
      run(sources_, id, f);
      run(verdicts_, question, id, f);
    }
  }

  /// The film's survey as another title. Its hash is only of the right form.
  void survey(std::int64_t number) {
    SQLite::Statement head(db_,
                           "INSERT INTO surveys SELECT ?, title || ' ' || ?, ?, frames, header, added FROM "
                           "shape.surveys");
    run(head, number, number, sha256_hex(std::to_string(number)));
    SQLite::Statement chunks(db_,
                             "INSERT INTO survey_chunks SELECT ?, position, frames, content FROM "
                             "shape.survey_chunks ORDER BY position");
    run(chunks, number);
  }

  void copy_once(const char* table) { db_.exec(fmt::format("INSERT INTO main.{0} SELECT * FROM shape.{0}", table)); }
  void begin() { db_.exec("BEGIN"); }
  void commit() { db_.exec("COMMIT"); }
  [[nodiscard]] std::int64_t count(const std::string& table) {
    return db_.execAndGet("SELECT count(*) FROM " + table).getInt64();
  }
  [[nodiscard]] std::int64_t newest(const std::string& table) {
    return db_.execAndGet("SELECT coalesce(max(id), 0) FROM " + table).getInt64();
  }
  [[nodiscard]] double bytes() { return 4096.0 * static_cast<double>(db_.execAndGet("PRAGMA page_count").getInt64()); }

 private:
  static SQLite::Database opened(const std::string& path, const std::string& shape) {
    SQLite::Database db(path, SQLite::OPEN_READWRITE);
    db.exec("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -1000000");
    db.exec("ATTACH '" + shape + "' AS shape");
    return db;
  }

  SQLite::Database db_;
  std::vector<ShapeRun> runs_;
  std::vector<std::int64_t> first_reading_, first_question_;  ///< of each loan: the id before its first
  SQLite::Statement run_{db_,
                         "INSERT INTO runs SELECT NULL, ?, procedure, procedure_version, parameters, 'open', started, "
                         "NULL, origin, NULL, NULL FROM shape.runs WHERE id = ?"};
  SQLite::Statement readings_{
      db_,
      "INSERT INTO readings SELECT NULL, ?, sequence, step, repeat, taken, signal, x_cdm2, y_cdm2, z_cdm2, "
      "integration_s, saturated, below_range, spectrum_start_nm, spectrum_step_nm, spectrum, raw_reply, context, "
      "hash FROM shape.readings WHERE run = ? ORDER BY sequence"};
  SQLite::Statement events_{
      db_, "INSERT INTO events SELECT NULL, ?, at, kind, text FROM shape.events WHERE run = ? ORDER BY id"};
  SQLite::Statement end_{db_,
                         "UPDATE runs SET (state, ended, closing_count, closing_hash) = (SELECT state, ended, "
                         "closing_count, closing_hash FROM shape.runs WHERE id = ?2) WHERE id = ?1"};
  SQLite::Statement finding_{
      db_,
      "INSERT INTO findings SELECT NULL, ?, quantity, conditions, value, unit, standard_uncertainty, lower95, "
      "upper95, interval_method, dominant, method, parts, series, computed, software FROM shape.findings "
      "WHERE id = ?"};
  SQLite::Statement links_{db_,
                           "INSERT INTO finding_readings SELECT ?, position, reading + ? FROM shape.finding_readings "
                           "WHERE finding = ? ORDER BY position"};
  SQLite::Statement sources_{
      db_, "INSERT INTO finding_sources SELECT ?, position, source FROM shape.finding_sources WHERE finding = ?"};
  SQLite::Statement verdicts_{db_,
                              "INSERT INTO verdicts SELECT NULL, question + ?, ?, verdict, margin, decides, text FROM "
                              "shape.verdicts WHERE finding = ? ORDER BY id"};
};

}  // namespace

void carry_through(const std::string& path) {
  const Timestamp start = must(parse_iso8601("2026-11-25T09:00:00Z"));
  auto bench = must(store::Bench::create(path, "Tern 32", "invented", start));
  store::DisplayRecord display{.name = "Tern 32", .technology = "LCD, mini-LED (invented)"};
  display.details = {{"simulated", "tern-32"}, {"claimed_peak_cdm2", 1400}, {"size", "32 inch, 3840 x 2160"}};
  store::InstrumentRecord meter{.name = "Simulated meter", .kind = "simulated"};
  store::LoanRecord loan{.display = must(bench.put(display)),
                         .instrument = must(bench.put(meter)),
                         .room = must(bench.put(store::RoomRecord{.name = "Suite 2", .surround_cdm2 = 5})),
                         .starts = start,
                         .ends = start + Seconds{48 * 3600},
                         .purpose = "documentary grading",
                         .seed = 32};
  loan.id = must(bench.put(loan));
  for (const char* name : {"claims-tern-32", "itu-r-bt.2100-3-reference-display", "ebu-tech-3320-v4.1-grade-1a",
                           "display-review", "hdr-mastering-basics"})
    for (auto q : must(evaluation::find_requirement_set(name, read_file)).questions) {
      q.loan = loan.id;
      must(bench.put(q));
    }
  const auto plan = must(loan::make_plan(bench, loan, start, std::nullopt));
  NoClock clock;
  const auto devices = must(loan::open_devices(bench, loan, {.machine_clock = &clock}));
  must(loan::run_plan(bench, loan, plan, *devices, false, {}));
  must(loan::evaluate(bench, loan, loan.ends, "benchmark"));
}

ScaleBench make_scale_bench(const std::string& folder, const ScaleSize& size) {
  const auto begun = std::chrono::steady_clock::now();
  fs::remove_all(folder);
  fs::create_directories(folder);
  const auto shape = folder + "/shape.bench";
  ScaleBench out{.path = folder + "/large.bench"};
  carry_through(shape);
  {
    auto bench = must(store::Bench::open(shape));
    survey_film(folder, bench, size.frames);
  }
  must(store::Bench::create(out.path, "Many loans", "invented", {1.8e9}));
  Filler fill(out.path, shape);
  const auto say = [&](const char* what) {
    fmt::print(stderr, "{}: {:.1f} GB after {:.0f} s\n", what, 1e-9 * fill.bytes(),
               std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
  };
  fill.begin();
  fill.copy_once("instruments");
  fill.copy_once("rooms");
  double before = fill.bytes();
  const auto grown_by = [&] { return fill.bytes() - std::exchange(before, fill.bytes()); };
  for (std::int64_t n = 1; n <= size.surveys; ++n) fill.survey(n);
  out.frame_bytes = grown_by() / static_cast<double>(size.surveys * size.frames);
  say("surveys");
  for (out.loans = 0; out.loans < size.loans;) fill.loan(++out.loans);
  out.loan_bytes = grown_by() / static_cast<double>(size.loans);
  const auto round = fill.readings_a_round();
  for (std::int64_t n = 1; n <= size.loans; ++n)
    while (out.readings < size.readings / size.loans * n) fill.round(n), out.readings += round;
  out.reading_bytes = grown_by() / static_cast<double>(out.readings);
  say("readings");
  for (int k = 0; k < kEvaluations; ++k)
    for (std::int64_t n = 1; n <= size.loans; ++n) fill.evaluation(n);
  out.findings = fill.newest("findings");
  out.finding_bytes = grown_by() / static_cast<double>(out.findings);
  say("findings");
  fill.commit();
  out.runs = fill.newest("runs");
  out.surveys = size.surveys;
  out.frames = size.frames;
  out.fill_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return out;
}

}  // namespace provenit::bench
