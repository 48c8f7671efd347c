#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

class Findings : public testing::Test {
 protected:
  Findings() {
    for (int i = 0; i < 4; ++i) readings_.push_back(s_.bench.add_reading(sample_reading(s_.run, i)).value());
    question_ = s_.bench.put(sample_question(s_.loan)).value();
  }
  FindingRecord finding(std::vector<Id> readings) const {
    auto f = sample_finding();
    f.loan = s_.loan;
    f.readings = std::move(readings);
    return f;
  }
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  SampleBench s_ = make_bench(path_);
  std::vector<Id> readings_;
  Id question_ = 0;
};

TEST_F(Findings, ComeBackWithReadingsMethodAndSourcesInOrder) {
  auto second = finding({readings_[2]});
  second.sources = {"Document A"};
  second.method_version = 5;
  const std::array findings{finding({readings_[3], readings_[0], readings_[3]}), second};
  const std::array verdicts{VerdictRecord{.question = question_,
                                          .finding = 1,
                                          .verdict = Verdict::fails,
                                          .margin = -1.0 / 3,
                                          .decides = "luminance scale",
                                          .text = "below the claim"},
                            VerdictRecord{.question = question_, .finding = 0}};
  ASSERT_TRUE(s_.bench.put_findings(s_.loan, findings, verdicts));
  const auto other = Bench::open(path_).value();
  const auto read = other.latest_findings(s_.loan).value();
  ASSERT_EQ(read.size(), 2u);
  for (std::size_t i = 0; i < 2; ++i) {
    expect_same(read[i], findings[i]);
    EXPECT_EQ(read[i].loan, s_.loan);
  }
  // For comparisons: the same but for series and links.
  const auto figures = other.latest_figures(s_.loan).value();
  ASSERT_EQ(figures.size(), 2u);
  for (std::size_t i = 0; i < 2; ++i) {
    auto expected = read[i];
    expected.series = nlohmann::json::array();
    expected.readings.clear(), expected.attachments.clear(), expected.sources.clear();
    expect_same(figures[i], expected);
    EXPECT_EQ(figures[i].id, read[i].id);
    EXPECT_EQ(figures[i].loan, s_.loan);
  }
  const auto said = other.latest_verdicts(s_.loan).value();
  ASSERT_EQ(said.size(), 2u);
  EXPECT_EQ(said[0].finding, read[1].id);
  EXPECT_EQ(said[0].question, question_);
  EXPECT_EQ(said[0].verdict, Verdict::fails);
  EXPECT_EQ(said[0].margin, -1.0 / 3);
  EXPECT_EQ(said[0].decides, "luminance scale");
  EXPECT_EQ(said[0].text, "below the claim");
  EXPECT_EQ(said[1].finding, read[0].id);
  EXPECT_EQ(said[1].margin, std::nullopt);

  // The links are rows of tables, so that anybody can follow them with SQL alone.
  SQLite::Database raw(path_);
  EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM finding_readings").getInt(), 4);
  EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM sources").getInt(), 2);
  EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM methods WHERE name = 'contrast/IDMS'").getInt(), 2);
}

TEST_F(Findings, ALaterSetSupersedesTheEarlierWhichStays) {
  const std::array first{finding({readings_[0]}), finding({readings_[1]})};
  const std::array verdict{VerdictRecord{.question = question_, .finding = 0, .verdict = Verdict::meets}};
  ASSERT_TRUE(s_.bench.put_findings(s_.loan, first, verdict));
  auto newer = finding({readings_[2]});
  newer.value = 7;
  ASSERT_TRUE(s_.bench.put_findings(s_.loan, std::array{newer}, {}));
  const auto read = s_.bench.latest_findings(s_.loan).value();
  ASSERT_EQ(read.size(), 1u);
  EXPECT_EQ(read[0].value, 7);
  EXPECT_TRUE(s_.bench.latest_verdicts(s_.loan).value().empty());
  SQLite::Database raw(path_);
  EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM findings").getInt(), 3);
  EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM verdicts").getInt(), 1);
}

TEST_F(Findings, AreStoredAllOrNone) {
  const auto nothing_stored = [&] {
    EXPECT_TRUE(s_.bench.latest_findings(s_.loan).value().empty());
    SQLite::Database raw(path_);
    EXPECT_EQ(raw.execAndGet("SELECT count(*) FROM finding_sets").getInt(), 0);
  };
  EXPECT_EQ(s_.bench.put_findings(s_.loan, std::array{finding({readings_[0]}), finding({99})}, {}).error().code,
            ErrorCode::not_found);
  nothing_stored();
  auto bad = finding({});
  bad.value = std::nan("");
  const auto refused = s_.bench.put_findings(s_.loan, std::array{finding({}), bad}, {});
  EXPECT_EQ(refused.error().where.field, "value");
  nothing_stored();
  for (const Id index : {-1, 1}) {
    const std::array verdict{VerdictRecord{.question = question_, .finding = index}};
    EXPECT_EQ(s_.bench.put_findings(s_.loan, std::array{finding({})}, verdict).error().code, ErrorCode::invalid_input);
  }
  const std::array stray{VerdictRecord{.question = 99, .finding = 0}};
  EXPECT_EQ(s_.bench.put_findings(s_.loan, std::array{finding({})}, stray).error().code, ErrorCode::not_found);
  EXPECT_EQ(s_.bench.put_findings(99, {}, {}).error().code, ErrorCode::not_found);
  nothing_stored();
}

}  // namespace
}  // namespace provenit::store
