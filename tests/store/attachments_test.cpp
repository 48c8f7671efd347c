// Files kept with a loan: to the byte, never changed, and damage is noticed.
#include <SQLiteCpp/SQLiteCpp.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <filesystem>

#include "provenit/base/text.h"
#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

using testing::HasSubstr;

class Attachments : public testing::Test {
 protected:
  AttachmentRecord sample(const std::string& name = "walk.csv") const {
    return {.loan = s_.loan,
            .run = s_.run,
            .kind = AttachmentKind::trace,
            .recording = "zone_walk",
            .name = name,
            .conditions = {{"step", "across"}, {"rate_hz", 2000}},
            .added = {1795600200.5}};
  }
  /// What is said of a copy of the bench after `sql` was run on it with this trigger gone.
  std::string verdict_after(const char* trigger, const std::string& sql) const {
    const auto copy = scratch_.file("copy.bench");
    std::filesystem::copy_file(path_, copy, std::filesystem::copy_options::overwrite_existing);
    {
      SQLite::Database db(copy, SQLite::OPEN_READWRITE);
      db.exec(std::string("DROP TRIGGER ") + trigger);
      EXPECT_GT(db.exec(sql), 0) << sql;
    }
    const auto checked = Bench::open(copy).value().verify_attachments();
    return checked ? "sound" : checked.error().text();
  }
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  SampleBench s_ = make_bench(path_);
  const std::string content_ = std::string("t,V\n0,1\0\xff\n", 11);
};

TEST_F(Attachments, ComeBackToTheByte) {
  const Id id = s_.bench.add_attachment(sample(), content_).value();
  EXPECT_EQ(s_.bench.attachment_content(id).value(), content_);
  const auto all = s_.bench.attachments(s_.loan).value();
  ASSERT_EQ(all.size(), 1u);
  EXPECT_EQ(all[0].run, s_.run);
  EXPECT_EQ(all[0].kind, AttachmentKind::trace);
  EXPECT_EQ(all[0].recording, "zone_walk");
  EXPECT_EQ(all[0].name, "walk.csv");
  EXPECT_EQ(all[0].conditions, sample().conditions);
  EXPECT_EQ(all[0].added.unix_s, 1795600200.5);
  EXPECT_EQ(all[0].content_hash, sha256_hex(content_));
  EXPECT_EQ(all[0].bytes, 11);
  EXPECT_TRUE(s_.bench.verify_attachments());
  EXPECT_TRUE(s_.bench.attachments(99).value().empty());
}

TEST_F(Attachments, WhatCannotBeKeptIsRefusedAndNothingIsStored) {
  EXPECT_EQ(s_.bench.add_attachment(sample(), "").error().code, ErrorCode::invalid_input);
  auto other = sample();
  other.loan = 9;
  EXPECT_EQ(s_.bench.add_attachment(other, content_).error().code, ErrorCode::not_found);
  other = sample();
  other.run = 9;
  EXPECT_EQ(s_.bench.add_attachment(other, content_).error().code, ErrorCode::not_found);
  other = sample();
  other.conditions["rate_hz"] = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(s_.bench.add_attachment(other, content_).error().code, ErrorCode::invalid_input);
  EXPECT_TRUE(s_.bench.attachments(s_.loan).value().empty());
  EXPECT_EQ(s_.bench.attachment_content(1).error().code, ErrorCode::not_found);
}

TEST_F(Attachments, TheSameFileForTheSameThingIsKeptOnce) {
  ASSERT_TRUE(s_.bench.add_attachment(sample(), content_));
  EXPECT_EQ(s_.bench.add_attachment(sample("renamed.csv"), content_).error().code, ErrorCode::conflict);
  auto down = sample();
  down.conditions["step"] = "down";
  EXPECT_TRUE(s_.bench.add_attachment(down, content_));
}

TEST_F(Attachments, FindingsNameThoseTheyWereComputedFrom) {
  const Id first = s_.bench.add_attachment(sample(), content_).value();
  const Id second = s_.bench.add_attachment(sample(), content_ + "2").value();
  auto finding = sample_finding();
  finding.readings.clear();
  finding.attachments = {second, first};
  ASSERT_TRUE(s_.bench.put_findings(s_.loan, std::array{finding}, {}));
  EXPECT_EQ(s_.bench.latest_findings(s_.loan).value().at(0).attachments, finding.attachments);
  finding.attachments = {7};
  EXPECT_EQ(s_.bench.put_findings(s_.loan, std::array{finding}, {}).error().code, ErrorCode::not_found);
}

TEST_F(Attachments, AreNeitherChangedNorRemovedNorReplaced) {
  const Id id = s_.bench.add_attachment(sample(), content_).value();
  auto finding = sample_finding();
  finding.readings.clear();
  finding.attachments = {id};
  ASSERT_TRUE(s_.bench.put_findings(s_.loan, std::array{finding, finding}, {}));
  SQLite::Database db(path_, SQLite::OPEN_READWRITE);
  for (const char* sql : {"UPDATE attachments SET name = name", "DELETE FROM attachments",
                          "INSERT OR REPLACE INTO attachments SELECT * FROM attachments",
                          "INSERT OR REPLACE INTO attachments SELECT 5, loan, run, kind, recording, 'x', conditions, "
                          "added, content_hash, hash, content FROM attachments",
                          "UPDATE finding_attachments SET position = position", "DELETE FROM finding_attachments",
                          "REPLACE INTO finding_attachments SELECT * FROM finding_attachments",
                          "INSERT INTO finding_attachments VALUES (1, 9, 1)"})
    EXPECT_THROW(
        {
          try {
            db.exec(sql);
          } catch (const SQLite::Exception& e) {
            EXPECT_THAT(e.what(), HasSubstr("never")) << sql;
            throw;
          }
        },
        SQLite::Exception)
        << sql;
}

TEST_F(Attachments, DamageIsNoticedWithoutTheTriggers) {
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(s_.bench.add_attachment(sample(), content_ + std::to_string(i)));
  { const auto closed = std::move(s_.bench); }  // moves the log into the file, which is copied below
  constexpr const char *update = "attachments_refuse_update", *remove = "attachments_refuse_delete";
  const struct {
    const char* trigger;
    const char* sql;
    const char* words;
  } cases[] = {
      {update, "UPDATE attachments SET content = x'00' WHERE id = 2", "attachment 2"},
      {update, "UPDATE attachments SET content_hash = replace(content_hash, 'a', 'b') WHERE id = 2", "attachment 2"},
      {update, "UPDATE attachments SET conditions = '{}' WHERE id = 2", "attachment 2"},
      {update, "UPDATE attachments SET recording = 'flicker' WHERE id = 1", "attachment 1"},
      {update, "UPDATE attachments SET name = 'x' WHERE id = 1", "attachment 1"},
      {update, "UPDATE attachments SET kind = 'still' WHERE id = 1", "attachment 1"},
      {update, "UPDATE attachments SET run = NULL WHERE id = 1", "attachment 1"},
      {update, "UPDATE attachments SET added = added + 1 WHERE id = 3", "attachment 3"},
      {remove, "DELETE FROM attachments WHERE id = 1", "attachment 2"},
  };
  for (const auto& c : cases) EXPECT_THAT(verdict_after(c.trigger, c.sql), HasSubstr(c.words)) << c.sql;
  EXPECT_TRUE(Bench::open(path_).value().verify_attachments());
}

TEST_F(Attachments, ADamagedFileIsNotHandedOut) {
  const Id id = s_.bench.add_attachment(sample(), content_).value();
  {
    SQLite::Database db(path_, SQLite::OPEN_READWRITE);
    db.exec("DROP TRIGGER attachments_refuse_update");
    db.exec("UPDATE attachments SET content = x'0102'");
  }
  EXPECT_EQ(s_.bench.attachment_content(id).error().code, ErrorCode::invalid_input);
}

}  // namespace
}  // namespace provenit::store
