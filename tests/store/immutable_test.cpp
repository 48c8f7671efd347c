// What the database itself refuses, whoever asks: statements here go round the library. And what the hashes show once
// somebody has taken the triggers away.
#include <SQLiteCpp/SQLiteCpp.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <filesystem>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

using testing::HasSubstr;

class Immutable : public testing::Test {
 protected:
  Immutable() {
    auto s = make_bench(path_);
    std::vector<Id> ids;
    for (int i = 0; i < 6; ++i) ids.push_back(s.bench.add_reading(sample_reading(s.run, i)).value());
    EXPECT_TRUE(s.bench.end_run(s.run, RunState::finished, {1795600100}));
    const Id open = s.bench.begin_run(sample_run(s.loan)).value();
    for (int i = 0; i < 4; ++i) ids.push_back(s.bench.add_reading(sample_reading(open, i)).value());
    EXPECT_TRUE(s.bench.add_event({.run = open, .at = {1}, .kind = "remark", .text = "x"}));
    const Id question = s.bench.put(sample_question(s.loan)).value();
    auto finding = sample_finding();
    finding.readings = ids;
    const std::array verdicts{VerdictRecord{.question = question, .finding = 0}};
    EXPECT_TRUE(s.bench.put_findings(s.loan, std::array{finding, finding}, verdicts));
  }

  void refused(SQLite::Database& db, const std::string& sql) {
    try {
      db.exec(sql);
      ADD_FAILURE() << "accepted: " << sql;
    } catch (const SQLite::Exception& e) {
      EXPECT_THAT(e.what(), testing::AnyOf(HasSubstr("never"), HasSubstr("ended"), HasSubstr("ends once"),
                                           HasSubstr("later"), HasSubstr("next one"), HasSubstr("begins open")))
          << sql;
    }
  }

  /// What verify_readings says of a copy of the bench after `sql` was run on it with this trigger gone.
  std::string verdict_after(const char* trigger, const std::string& sql) {
    const auto copy = scratch_.file("copy.bench");
    std::filesystem::copy_file(path_, copy, std::filesystem::copy_options::overwrite_existing);
    {
      SQLite::Database db(copy, SQLite::OPEN_READWRITE);
      if (trigger != nullptr) db.exec(std::string("DROP TRIGGER ") + trigger);
      EXPECT_GT(db.exec(sql), 0) << sql;
    }
    const auto checked = Bench::open(copy).value().verify_readings();
    return checked ? "sound" : checked.error().text();
  }

  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
};

TEST_F(Immutable, ReadingsAreNeitherChangedNorRemovedNorReplaced) {
  SQLite::Database db(path_, SQLite::OPEN_READWRITE);
  refused(db, "UPDATE readings SET y_cdm2 = 1.0 WHERE id = 3");
  refused(db, "UPDATE readings SET context = context");
  refused(db, "DELETE FROM readings WHERE id = 3");
  refused(db, "DELETE FROM readings");
  const std::string columns =
      "run, sequence, step, repeat, taken, signal, x_cdm2, y_cdm2, z_cdm2, integration_s, saturated, below_range, "
      "raw_reply, context, hash";
  refused(db, "INSERT OR REPLACE INTO readings (id, " + columns + ") SELECT id, " + columns + " FROM readings");
  refused(db, "INSERT OR REPLACE INTO readings (" + columns + ") SELECT " + columns + " FROM readings WHERE id = 8");
  EXPECT_EQ(db.execAndGet("SELECT count(*) FROM readings").getInt(), 10);
}

TEST_F(Immutable, AnEndedRunStaysAsItIs) {
  SQLite::Database db(path_, SQLite::OPEN_READWRITE);
  refused(db, "UPDATE runs SET state = 'open', ended = NULL, closing_count = NULL, closing_hash = NULL WHERE id = 1");
  refused(db, "UPDATE runs SET ended = 5.0 WHERE id = 1");
  refused(db, "UPDATE runs SET parameters = '{}' WHERE id = 2");
  refused(db, "UPDATE runs SET origin = 'measured!' WHERE id = 2");
  refused(db, "DELETE FROM runs");
  refused(db, "INSERT OR REPLACE INTO runs SELECT * FROM runs WHERE id = 2");
  refused(db,
          "INSERT INTO readings (run, sequence, step, repeat, taken, signal, x_cdm2, y_cdm2, z_cdm2, integration_s, "
          "saturated, below_range, raw_reply, context, hash) SELECT 1, 6, step, repeat, taken, signal, x_cdm2, "
          "y_cdm2, z_cdm2, integration_s, saturated, below_range, raw_reply, context, hash FROM readings WHERE id = 1");
}

TEST_F(Immutable, SignalsEventsFindingsAndWhatTheyRestOnStay) {
  SQLite::Database db(path_, SQLite::OPEN_READWRITE);
  for (const std::string table : {"signals", "events", "finding_sets", "findings", "methods", "sources",
                                  "finding_readings", "finding_sources", "verdicts"}) {
    ASSERT_GT(db.execAndGet("SELECT count(*) FROM " + table).getInt(), 0) << table;
    const std::string column = table == "finding_readings" || table == "finding_sources" ? "finding" : "id";
    refused(db, "UPDATE " + table + " SET " + column + " = " + column);
    refused(db, "DELETE FROM " + table);
    if (table != "finding_sets") refused(db, "INSERT OR REPLACE INTO " + table + " SELECT * FROM " + table);
  }
  refused(db, "INSERT INTO finding_readings VALUES (1, 99, 1)");
  refused(db, "INSERT INTO finding_sources VALUES (1, 99, 1)");
}

TEST_F(Immutable, TheHashesShowWhatWasDoneWithoutTheTriggers) {
  EXPECT_EQ(verdict_after(nullptr, "UPDATE bench SET title = 'new'"), "sound");
  constexpr const char *update = "readings_refuse_update", *remove = "readings_refuse_delete",
                       *run = "runs_keep_what_they_are";
  const struct {
    const char* trigger;
    const char* sql;
    const char* words;
  } cases[] = {
      {update, "UPDATE readings SET y_cdm2 = y_cdm2 * (1 + 1e-15) WHERE id = 3", "reading 3"},
      {update, "UPDATE readings SET x_cdm2 = 0.0 WHERE id = 2 AND x_cdm2 = 0.0", "reading 2"},  // it was -0.0
      {update, "UPDATE readings SET step = 'grey_6' WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET repeat = 1 WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET taken = taken + 1 WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET integration_s = 9.0 WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET saturated = 0 WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET below_range = 1 - below_range WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET raw_reply = x'00' WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET context = '{}' WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET signal = 1 WHERE id = 4", "reading 4"},
      {update, "UPDATE readings SET spectrum = zeroblob(8) WHERE id = 3", "reading 3"},
      {update, "UPDATE readings SET spectrum_step_nm = 2.0 WHERE id = 3", "reading 3"},
      {update, "UPDATE readings SET spectrum = NULL, spectrum_start_nm = NULL, spectrum_step_nm = NULL WHERE id = 3",
       "reading 3"},
      {remove, "DELETE FROM readings WHERE id = 2", "number 1 of run 1 is missing"},
      {remove, "DELETE FROM readings WHERE id = 6", "ended with 6 readings but has 5"},
      {run,
       "UPDATE runs SET parameters = '{}', state = 'aborted', ended = 1.0, closing_count = 4, closing_hash = '' WHERE "
       "id = 2",
       "reading 7"},
      {run,
       "UPDATE runs SET origin = 'typed', state = 'aborted', ended = 1.0, closing_count = 4, closing_hash = '' WHERE "
       "id = 2",
       "reading 7"},
  };
  for (const auto& c : cases) EXPECT_THAT(verdict_after(c.trigger, c.sql), HasSubstr(c.words)) << c.sql;
}

}  // namespace
}  // namespace provenit::store
