#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

using testing::HasSubstr;

class Readings : public testing::Test {
 protected:
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  SampleBench s_ = make_bench(path_);
};

TEST_F(Readings, ComeBackToTheBitAndInOrder) {
  for (int i = 0; i < 12; ++i) ASSERT_TRUE(s_.bench.add_reading(sample_reading(s_.run, i)));
  const auto other = Bench::open(path_).value();
  const auto read = other.readings(s_.run).value();
  ASSERT_EQ(read.size(), 12u);
  for (int i = 0; i < 12; ++i) expect_same(read[static_cast<std::size_t>(i)], sample_reading(s_.run, i));
  EXPECT_EQ(other.reading_count().value(), 12);
  EXPECT_TRUE(other.verify_readings());
}

TEST_F(Readings, AreFoundByLoanRunAndPlace) {
  const Id elsewhere = s_.bench.put(sample_loan(s_.bench)).value();
  const Id second = s_.bench.begin_run(sample_run(s_.loan)).value();
  const Id third = s_.bench.begin_run(sample_run(elsewhere)).value();
  std::vector<Id> ids;
  for (int i = 0; i < 4; ++i)
    for (const Id run : {s_.run, second, third}) ids.push_back(s_.bench.add_reading(sample_reading(run, i)).value());
  const auto found = [&](const ReadingQuery& query) {
    std::vector<Id> out;
    const auto readings = s_.bench.readings(query).value();
    for (const auto& r : readings) out.push_back(r.id);
    return out;
  };
  using testing::ElementsAre;
  EXPECT_EQ(found({}), ids);
  EXPECT_THAT(found({.run = second}), ElementsAre(ids[1], ids[4], ids[7], ids[10]));
  EXPECT_THAT(found({.loan = elsewhere}), ElementsAre(ids[2], ids[5], ids[8], ids[11]));
  EXPECT_THAT(found({.loan = s_.loan, .after = ids[3], .limit = 3}), ElementsAre(ids[4], ids[6], ids[7]));
  EXPECT_THAT(found({.loan = s_.loan, .limit = -3}), ElementsAre(ids[7], ids[9], ids[10]));
  EXPECT_THAT(found({.after = ids[1], .up_to = ids[3]}), ElementsAre(ids[2], ids[3]));
  expect_same(s_.bench.readings(ReadingQuery{.run = third, .limit = 1}).value().at(0), sample_reading(third, 0));
  const auto counts = s_.bench.reading_counts(s_.loan).value();
  EXPECT_EQ(counts, (std::map<Id, std::int64_t>{{s_.run, 4}, {second, 4}}));
  EXPECT_THAT(found({.loan = s_.loan, .after = ids[3], .up_to = ids[7]}), ElementsAre(ids[4], ids[6], ids[7]));
  EXPECT_THAT(found({.run = second, .limit = -2}), ElementsAre(ids[7], ids[10]));
  EXPECT_THAT(found({.limit = -2}), ElementsAre(ids[10], ids[11]));
  EXPECT_TRUE(found({.loan = elsewhere, .run = second}).empty());
  ASSERT_TRUE(s_.bench.begin_run(sample_run(s_.loan)));
  EXPECT_EQ(s_.bench.reading_counts(s_.loan).value(), counts) << "a run without readings is not counted";
}

TEST_F(Readings, AreCountedInOrderWithoutGaps) {
  ASSERT_TRUE(s_.bench.add_reading(sample_reading(s_.run, 0)));
  const auto twice = s_.bench.add_reading(sample_reading(s_.run, 0));
  EXPECT_EQ(twice.error().code, ErrorCode::conflict);
  EXPECT_THAT(twice.error().text(), HasSubstr("has its reading number 0 already"));
  const auto gap = s_.bench.add_reading(sample_reading(s_.run, 2));
  EXPECT_EQ(gap.error().code, ErrorCode::conflict);
  EXPECT_THAT(gap.error().text(), HasSubstr("is number 1, not 2"));
  EXPECT_EQ(s_.bench.add_reading(sample_reading(77, 0)).error().code, ErrorCode::not_found);
  EXPECT_EQ(s_.bench.reading_count().value(), 1);
}

TEST_F(Readings, AnEndedRunTakesNoMore) {
  ASSERT_TRUE(s_.bench.add_reading(sample_reading(s_.run, 0)));
  ASSERT_TRUE(s_.bench.end_run(s_.run, RunState::finished, {1795600100.3}));
  const auto late = s_.bench.add_reading(sample_reading(s_.run, 1));
  EXPECT_EQ(late.error().code, ErrorCode::conflict);
  EXPECT_THAT(late.error().text(), HasSubstr("has ended (finished)"));
  EXPECT_EQ(s_.bench.end_run(s_.run, RunState::aborted, {1795600101}).error().code, ErrorCode::conflict);
  EXPECT_TRUE(s_.bench.verify_readings());
}

TEST_F(Readings, OfOneCallAreStoredAllOrNone) {
  std::vector<ReadingRecord> batch;
  for (int i = 0; i < 5; ++i) batch.push_back(sample_reading(s_.run, i));
  batch[4].measurement.xyz.Y = std::nan("");
  const auto refused = s_.bench.add_readings(batch);
  EXPECT_EQ(refused.error().code, ErrorCode::invalid_input);
  EXPECT_EQ(refused.error().where.field, "Y");
  EXPECT_EQ(s_.bench.reading_count().value(), 0);
  batch[4] = sample_reading(s_.run, 4);
  ASSERT_TRUE(s_.bench.add_readings(batch));
  EXPECT_EQ(s_.bench.reading_count().value(), 5);
  EXPECT_TRUE(s_.bench.verify_readings());
}

TEST_F(Readings, RefuseWhatIsNoReading) {
  const auto refused = [&](auto change, const char* field) {
    auto r = sample_reading(s_.run, 0);
    r.measurement.spectrum = {.start_nm = 380, .step_nm = 5, .radiance = {1, 2}};
    change(r);
    const auto got = s_.bench.add_reading(r);
    ASSERT_FALSE(got) << field;
    EXPECT_EQ(got.error().where.field, field);
  };
  refused([](auto& r) { r.measurement.xyz.X = INFINITY; }, "X");
  refused([](auto& r) { r.measurement.xyz.Z = std::nan(""); }, "Z");
  refused([](auto& r) { r.measurement.integration.s = std::nan(""); }, "integration");
  refused([](auto& r) { r.taken.unix_s = std::nan(""); }, "taken");
  refused([](auto& r) { r.repeat = -1; }, "repeat");
  refused([](auto& r) { r.measurement.spectrum->radiance[1] = std::nan(""); }, "spectrum.radiance");
  refused([](auto& r) { r.measurement.spectrum->radiance.clear(); }, "spectrum");
  refused([](auto& r) { r.measurement.spectrum->step_nm = 0; }, "spectrum");
  refused([](auto& r) { r.signal.patch.code[1] = 1024; }, "signal.patch");
  refused([](auto& r) { r.context["t"] = INFINITY; }, "context");
  EXPECT_EQ(s_.bench.reading_count().value(), 0);
}

TEST_F(Readings, AHundredThousandGoInAtOnceAndComeBack) {
  constexpr int count = 100'000;
  std::vector<ReadingRecord> batch;
  batch.reserve(count);
  for (int i = 0; i < count; ++i) {
    auto r = sample_reading(s_.run, i);
    r.measurement.spectrum.reset();
    r.context = nlohmann::json::object();
    r.measurement.xyz.Y = i / 3.0;
    batch.push_back(std::move(r));
  }
  ASSERT_TRUE(s_.bench.add_readings(batch));
  EXPECT_EQ(s_.bench.reading_count().value(), count);
  EXPECT_EQ(s_.bench.add_reading(sample_reading(s_.run, count)).value(), count + 1);
  const auto read = s_.bench.readings(s_.run).value();
  ASSERT_EQ(read.size(), static_cast<std::size_t>(count) + 1);
  for (const int i : {0, 1, 49'999, count - 1}) {
    expect_same(read[static_cast<std::size_t>(i)], batch[static_cast<std::size_t>(i)]);
  }
}

}  // namespace
}  // namespace provenit::store
