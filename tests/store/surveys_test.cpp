#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

class Surveys : public testing::Test {
 protected:
  Result<Id> add(const SurveyRecord& record, std::vector<SurveyChunk> chunks) {
    std::size_t next = 0;
    return s_.bench.add_survey(record, [&, chunks]() -> Result<std::optional<SurveyChunk>> {
      return next < chunks.size() ? std::optional(chunks[next++]) : std::nullopt;
    });
  }
  std::vector<SurveyChunk> chunks_of(Id id) const {
    std::vector<SurveyChunk> all;
    EXPECT_TRUE(s_.bench.for_each_survey_chunk(id, [&](const SurveyChunk& c) -> Result<void> {
      all.push_back(c);
      return {};
    }));
    return all;
  }
  const SurveyRecord record_{.title = "shore.mp4",
                             .hash = std::string(64, 'a'),
                             .frames = 3,
                             .header = {{"simd_level", "avx2"}},
                             .added = {12.5}};
  const std::vector<SurveyChunk> chunks_{{.frames = 2, .content = std::string("a\0b", 3)},
                                         {.frames = 1, .content = "c"}};
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  SampleBench s_ = make_bench(path_);
};

TEST_F(Surveys, ComeBackToTheByte) {
  const Id id = add(record_, chunks_).value();
  const auto back = s_.bench.survey(id).value();
  EXPECT_EQ(back.title, record_.title);
  EXPECT_EQ(back.hash, record_.hash);
  EXPECT_EQ(back.frames, 3);
  EXPECT_EQ(back.header, record_.header);
  EXPECT_EQ(back.added.unix_s, 12.5);
  const auto chunks = chunks_of(id);
  ASSERT_EQ(chunks.size(), 2u);
  EXPECT_EQ(chunks[0].content, chunks_[0].content);
  EXPECT_EQ(chunks[1].frames, 1);
  EXPECT_EQ(s_.bench.surveys().value().size(), 1u);
}

TEST_F(Surveys, AreReadWhereAFrameLies) {
  add(record_, chunks_).value();
  auto other = record_;
  other.hash = std::string(64, 'b');
  const Id id = add(other, {{.frames = 1, .content = "x"}, {.frames = 2, .content = "yz"}}).value();
  const auto first = s_.bench.survey_chunk_at(id, 0).value();
  EXPECT_EQ(first.first, 0);
  EXPECT_EQ(first.chunk.frames, 1);
  EXPECT_EQ(first.chunk.content, "x");
  for (const std::int64_t position : {1, 2}) {
    const auto second = s_.bench.survey_chunk_at(id, position).value();
    EXPECT_EQ(second.first, 1);
    EXPECT_EQ(second.chunk.content, "yz");
  }
  EXPECT_EQ(s_.bench.survey_chunk_at(id, 3).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(s_.bench.survey_chunk_at(id, -1).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(s_.bench.survey_chunk_at(77, 0).error().code, ErrorCode::not_found);
}

TEST_F(Surveys, TheSameOneTwiceIsRefused) {
  const Id id = add(record_, chunks_).value();
  const auto again = add(record_, chunks_);
  ASSERT_FALSE(again);
  EXPECT_EQ(again.error().code, ErrorCode::conflict);
  EXPECT_EQ(chunks_of(id).size(), 2u);
}

TEST_F(Surveys, AreStoredWholeOrNotAtAll) {
  EXPECT_EQ(add(record_, {chunks_[0]}).error().code, ErrorCode::invalid_input);  // 2 of 3 frames
  bool first = true;
  const auto broken = s_.bench.add_survey(record_, [&]() -> Result<std::optional<SurveyChunk>> {
    if (std::exchange(first, false)) return std::optional(chunks_[0]);
    return fail(ErrorCode::io, "the disk is gone");
  });
  EXPECT_EQ(broken.error().message, "the disk is gone");
  EXPECT_TRUE(s_.bench.surveys().value().empty());
  EXPECT_EQ(s_.bench.survey(1).error().code, ErrorCode::not_found);
}

TEST_F(Surveys, AreNeverChanged) {
  add(record_, chunks_).value();
  SQLite::Database db(path_, SQLite::OPEN_READWRITE);
  for (const char* sql : {"UPDATE surveys SET title = 'x'", "UPDATE survey_chunks SET content = x'00'",
                          "DELETE FROM survey_chunks", "REPLACE INTO survey_chunks SELECT * FROM survey_chunks"})
    EXPECT_THROW(db.exec(sql), SQLite::Exception) << sql;
}

}  // namespace
}  // namespace provenit::store
