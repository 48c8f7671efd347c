#include "provenit/store/bench.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <random>

#include "provenit/base/text.h"
#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

using testing::HasSubstr;

class BenchFile : public testing::Test {
 protected:
  /// A closed bench with readings, its log moved into the file.
  std::string written() {
    auto path = scratch_.file("sound.bench");
    auto s = make_bench(path);
    for (int i = 0; i < 60; ++i) EXPECT_TRUE(s.bench.add_reading(sample_reading(s.run, i)));
    return path;
  }
  /// Opening fails with this code and these words, and leaves the file as it is.
  void refused(const std::string& path, ErrorCode code, const char* words) {
    const auto before = read_file(path);
    const auto bench = Bench::open(path);
    ASSERT_FALSE(bench) << path;
    EXPECT_EQ(bench.error().code, code) << bench.error().text();
    EXPECT_THAT(bench.error().text(), HasSubstr(words));
    EXPECT_EQ(bench.error().where.file, path);
    if (before.has_value()) {
      EXPECT_EQ(*before, *read_file(path));
    }
  }
  Scratch scratch_;
};

TEST_F(BenchFile, IsMadeWholeAndOpensAgain) {
  const auto path = scratch_.file("Prüfstand 光.bench");
  {
    const auto made = Bench::create(path, "Titel “A”", "Evaluator", {1795597200.25});
    ASSERT_TRUE(made) << made.error().text();
    EXPECT_EQ(made->path(), path);
  }
  EXPECT_FALSE(std::filesystem::exists(path + "-wal"));
  const auto bench = Bench::open(path);
  ASSERT_TRUE(bench) << bench.error().text();
  const auto title = bench->title().value();
  EXPECT_EQ(title.title, "Titel “A”");
  EXPECT_EQ(title.evaluator, "Evaluator");
  EXPECT_EQ(title.created.unix_s, 1795597200.25);
  EXPECT_EQ(title.schema_version, 8);
  EXPECT_TRUE(bench->verify_readings());
  const auto folder = std::filesystem::path(path).parent_path();
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    EXPECT_THAT(entry.path().string(), testing::StartsWith(path)) << "left over";
}

TEST_F(BenchFile, IsNeverWrittenOver) {
  const auto path = scratch_.file("taken");
  ASSERT_TRUE(write_file(path, "my notes"));
  EXPECT_EQ(Bench::create(path, "T", "E", {1}).error().code, ErrorCode::conflict);
  EXPECT_EQ(read_file(path).value(), "my notes");
}

TEST_F(BenchFile, IsNotMadeBesideTheLogOfAnother) {
  // A log left behind by a bench that was moved away would be played into the new one.
  const auto path = scratch_.file("a.bench");
  ASSERT_TRUE(write_file(path + "-wal", "log"));
  const auto made = Bench::create(path, "T", "E", {1});
  EXPECT_EQ(made.error().code, ErrorCode::conflict);
  EXPECT_THAT(made.error().text(), HasSubstr("-wal"));
  EXPECT_FALSE(std::filesystem::exists(path));
}

TEST_F(BenchFile, IsNotMadeInAFolderThatIsNotThere) {
  const auto made = Bench::create(scratch_.file("no/such/a.bench"), "T", "E", {1});
  EXPECT_EQ(made.error().code, ErrorCode::io);
  EXPECT_THAT(made.error().text(), HasSubstr("Check that the folder exists"));
}

TEST_F(BenchFile, RefusesWhatIsNoBench) {
  const auto path = scratch_.file("other");
  refused(path, ErrorCode::not_found, "no such bench");
  EXPECT_FALSE(std::filesystem::exists(path));
  std::filesystem::create_directory(path);
  refused(path, ErrorCode::invalid_input, "is a folder");
  std::filesystem::remove(path);
  for (const auto& content : {std::string(), std::string("Y,x,y\n100,0.3,0.3\n"), std::string(5000, '\0')}) {
    ASSERT_TRUE(write_file(path, content));
    refused(path, ErrorCode::invalid_input, "not an SQLite database");
  }
  std::filesystem::remove(path);
  { SQLite::Database(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE).exec("CREATE TABLE a (b)"); }
  refused(path, ErrorCode::invalid_input, "of some other program");
}

TEST_F(BenchFile, RefusesABenchOfANewerProgram) {
  const auto path = written();
  { SQLite::Database(path, SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 1000"); }
  refused(path, ErrorCode::conflict, "newer program wrote this bench (version 1000");
}

TEST_F(BenchFile, RefusesATruncatedBench) {
  const auto whole = read_file(written()).value();
  const auto path = scratch_.file("cut.bench");
  for (const std::size_t size : {std::size_t{16}, std::size_t{100}, std::size_t{4096}, std::size_t{4097},
                                 whole.size() / 2, whole.size() - 4096, whole.size() - 1}) {
    ASSERT_TRUE(write_file(path, whole.substr(0, size)));
    const auto bench = Bench::open(path);
    ASSERT_FALSE(bench) << size << " of " << whole.size();
    EXPECT_EQ(bench.error().code, ErrorCode::invalid_input) << bench.error().text();
    EXPECT_EQ(read_file(path).value().size(), size);
  }
}

TEST_F(BenchFile, DamageIsRefusedOrHarmlessButNeverTakenForReadings) {
  const auto sound_path = written();
  const auto whole = read_file(sound_path).value();
  const auto sound = Bench::open(sound_path).value();
  const auto path = scratch_.file("damaged.bench");
  std::mt19937_64 random(7);
  int refused_at_open = 0, refused_by_hash = 0, unnoticed = 0;
  for (int i = 0; i < 200; ++i) {
    auto bytes = whole;
    // A damaged sector: 512 bytes of noise anywhere.
    const auto at = random() % (bytes.size() / 512) * 512;
    for (std::size_t k = 0; k < 512; ++k) bytes[at + k] = static_cast<char>(random());
    ASSERT_TRUE(write_file(path, bytes));
    for (const char* suffix : {"-wal", "-shm"}) std::filesystem::remove(path + suffix);
    const auto bench = Bench::open(path);
    if (!bench) {
      ++refused_at_open;
      EXPECT_EQ(read_file(path).value(), bytes) << "a refused file was changed";
    } else if (!bench->verify_readings()) {
      ++refused_by_hash;
    } else {
      // Noise in unused space or in other tables: every reading is still the one that was stored.
      ++unnoticed;
      const auto readings = bench->readings(1).value();
      ASSERT_EQ(readings.size(), 60u);
      for (int s = 0; s < 60; ++s) expect_same(readings[static_cast<std::size_t>(s)], sample_reading(1, s));
    }
  }
  EXPECT_GT(refused_at_open, 50);
  EXPECT_GT(refused_by_hash, 10);
  EXPECT_LT(unnoticed, 130);  // half of so small a bench is pages of tables without rows
}

/// Overwrites the first page of a table; gives what stood there.
std::string overwrite_root(const std::string& path, const std::string& table, const std::string& page) {
  std::int64_t at = 0;
  {
    SQLite::Database db(path);
    at = (db.execAndGet("SELECT rootpage FROM sqlite_schema WHERE name = '" + table + "'").getInt64() - 1) * 4096;
  }
  std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
  std::string before(4096, '\0');
  file.seekg(at).read(before.data(), 4096);
  file.seekp(at).write(page.data(), 4096);
  return before;
}

TEST_F(BenchFile, ALargeOneIsLookedThroughInPart) {
  const auto path = written();
  {
    SQLite::Database db(path, SQLite::OPEN_READWRITE);
    db.exec(
        "INSERT INTO attachments VALUES (1, 1, NULL, 'clip', 'r', 'n', '{}', 0, hex(zeroblob(32)), "
        "hex(zeroblob(32)), zeroblob(" +
        std::to_string(Bench::kMostCheckedBytes) + "))");
  }
  const std::string noise(4096, 'x');
  const auto sound_loans = overwrite_root(path, "loans", noise);
  EXPECT_EQ(Bench::open(path).error().code, ErrorCode::invalid_input);
  overwrite_root(path, "loans", sound_loans);
  overwrite_root(path, "readings", noise);
  {
    const auto bench = Bench::open(path);
    ASSERT_TRUE(bench) << bench.error().text();
    EXPECT_EQ(bench->loans().value().size(), 1u);
    const auto read = bench->readings(1);
    ASSERT_FALSE(read);
    EXPECT_THAT(read.error().text(), HasSubstr("the bench is damaged"));
    EXPECT_FALSE(bench->verify_readings());
  }
  EXPECT_EQ(Bench::copy(path, scratch_.file("copy.bench")).error().code, ErrorCode::invalid_input);
  { SQLite::Database(path, SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 6"); }
  EXPECT_EQ(Bench::open(path).error().code, ErrorCode::invalid_input) << "is looked through whole before it is changed";
}

}  // namespace
}  // namespace provenit::store
