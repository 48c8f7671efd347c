// A bench of an older version is brought up to this one, with every reading in it.
#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <set>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

// data/version_2.sqlite was written by version 2 of the schema (before findings): six readings in an ended run, three
// in an open one. It is never written again: every later schema must still take it.
// data/version_4.sqlite was written by version 4 (before attachments): a simulated loan with one run and a finding.
// data/version_7.sqlite was written by version 7: four readings in an ended run, a survey of five frames in three
// chunks.
std::string older_bench(const Scratch& scratch, const char* name = "version_2.sqlite") {
  auto path = scratch.file(name);
  std::filesystem::copy_file(std::string(PROVENIT_SOURCE_DIR "/tests/store/data/") + name, path);
  std::filesystem::permissions(path, std::filesystem::perms::owner_write, std::filesystem::perm_options::add);
  return path;
}

TEST(Migration, BringsAnOlderBenchUpWithItsReadings) {
  const Scratch scratch;
  const auto path = older_bench(scratch);
  auto bench = Bench::open(path);
  ASSERT_TRUE(bench) << bench.error().text();
  EXPECT_EQ(bench->title().value().schema_version, 8);
  EXPECT_EQ(bench->reading_count().value(), 9);
  EXPECT_TRUE(bench->verify_readings());
  const auto runs = bench->runs(1).value();
  ASSERT_EQ(runs.size(), 2u);
  EXPECT_EQ(runs[0].state, RunState::finished);
  for (const auto& run : runs) {
    const auto readings = bench->readings(run.id).value();
    for (std::size_t i = 0; i < readings.size(); ++i)
      expect_same(readings[i], sample_reading(run.id, static_cast<std::int64_t>(i)));
  }
  // The open run goes on, and what the newer version added can be used.
  const Id reading = bench->add_reading(sample_reading(2, 3)).value();
  auto finding = sample_finding();
  finding.readings = {1, reading};
  ASSERT_TRUE(bench->put_findings(1, std::array{finding}, {}));
  expect_same(bench->latest_findings(1).value().at(0), finding);
}

TEST(Migration, BringsABenchWithFindingsUp) {
  const Scratch scratch;
  const auto path = older_bench(scratch, "version_4.sqlite");
  auto bench = Bench::open(path);
  ASSERT_TRUE(bench) << bench.error().text();
  EXPECT_EQ(bench->title().value().schema_version, 8);
  EXPECT_EQ(bench->reading_count().value(), 12);
  EXPECT_TRUE(bench->verify_readings());
  EXPECT_TRUE(bench->verify_attachments());
  auto findings = bench->latest_findings(1).value();
  ASSERT_EQ(findings.size(), 1u);
  EXPECT_EQ(findings[0].quantity, "black_luminance");
  EXPECT_EQ(findings[0].readings.size(), 12u);
  EXPECT_TRUE(findings[0].attachments.empty());
  const Id attachment = bench->add_attachment({.loan = 1, .recording = "flicker", .name = "a.csv"}, "x").value();
  findings[0].attachments = {attachment};
  ASSERT_TRUE(bench->put_findings(1, findings, {}));
  EXPECT_EQ(bench->latest_findings(1).value().at(0).attachments, std::vector<Id>{attachment});
}

TEST(Migration, FindsTheFramesOfAnOlderSurvey) {
  const Scratch scratch;
  auto bench = Bench::open(older_bench(scratch, "version_7.sqlite"));
  ASSERT_TRUE(bench) << bench.error().text();
  EXPECT_EQ(bench->title().value().schema_version, 8);
  EXPECT_EQ(bench->reading_count().value(), 4);
  EXPECT_TRUE(bench->verify_readings());
  for (const std::int64_t position : {2, 3}) {
    const auto placed = bench->survey_chunk_at(1, position).value();
    EXPECT_EQ(placed.first, 2);
    EXPECT_EQ(placed.chunk.frames, 2);
    EXPECT_EQ(placed.chunk.content, std::string(5000, 'b'));
  }
  EXPECT_EQ(bench->survey_chunk_at(1, 4).value().chunk.content, std::string(5000, 'c'));
  EXPECT_EQ(bench->survey_chunk_at(1, 5).error().code, ErrorCode::out_of_range);
}

TEST(Migration, GivesTheSameSchemaAsANewBench) {
  const Scratch scratch;
  const auto new_path = scratch.file("new.bench");
  ASSERT_TRUE(Bench::create(new_path, "T", "E", {1}));
  const auto schema = [](const std::string& path) {
    SQLite::Database db(path);
    SQLite::Statement query(db, "SELECT type, name, sql FROM sqlite_schema");
    std::set<std::string> rows;
    while (query.executeStep())
      rows.insert(query.getColumn(0).getString() + ' ' + query.getColumn(1).getString() + ' ' +
                  query.getColumn(2).getString());
    return rows;
  };
  for (const char* name : {"version_2.sqlite", "version_4.sqlite", "version_7.sqlite"}) {
    const auto path = older_bench(scratch, name);
    ASSERT_TRUE(Bench::open(path)) << name;
    EXPECT_EQ(schema(path), schema(new_path)) << name;
  }
}

TEST(Migration, IsDoneOnceWhenSeveralOpenAtTheSameTime) {
  const Scratch scratch;
  const auto path = older_bench(scratch);
  std::vector<pid_t> children;
  for (int i = 0; i < 4; ++i) {
    children.push_back(::fork());
    if (children.back() == 0) {
      const auto bench = Bench::open(path);
      ::_exit(bench && bench->title().value().schema_version == 8 ? 0 : 1);
    }
  }
  for (const pid_t child : children) {
    int status = -1;
    ::waitpid(child, &status, 0);
    EXPECT_EQ(status, 0);
  }
  EXPECT_TRUE(Bench::open(path).value().verify_readings());
}

}  // namespace
}  // namespace provenit::store
