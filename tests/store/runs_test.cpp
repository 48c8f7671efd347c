#include <gtest/gtest.h>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

class Runs : public testing::Test {
 protected:
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  SampleBench s_ = make_bench(path_);
};

TEST_F(Runs, BeginOpenAndEndOnce) {
  auto expected = sample_run(s_.loan);
  expect_same(s_.bench.run(s_.run).value(), expected);
  EXPECT_EQ(s_.bench.end_run(s_.run, RunState::open, {5}).error().code, ErrorCode::invalid_input);
  ASSERT_TRUE(s_.bench.end_run(s_.run, RunState::aborted, {1795600100.3}));
  expected.state = RunState::aborted;
  expected.ended = Timestamp{1795600100.3};
  expect_same(Bench::open(path_).value().run(s_.run).value(), expected);
  EXPECT_EQ(s_.bench.end_run(s_.run, RunState::finished, {1795600101}).error().code, ErrorCode::conflict);
  EXPECT_EQ(s_.bench.end_run(99, RunState::finished, {1}).error().code, ErrorCode::not_found);
  EXPECT_EQ(s_.bench.run(99).error().code, ErrorCode::not_found);
}

TEST_F(Runs, AreListedByLoan) {
  const Id other = s_.bench.put(sample_loan(s_.bench)).value();
  auto finished = sample_run(other);
  finished.state = RunState::finished;  // begin_run begins it open whatever the record says
  const Id second = s_.bench.begin_run(finished).value();
  ASSERT_EQ(s_.bench.runs(other).value().size(), 1u);
  EXPECT_EQ(s_.bench.runs(other).value()[0].id, second);
  EXPECT_EQ(s_.bench.runs(other).value()[0].state, RunState::open);
  EXPECT_EQ(s_.bench.runs(s_.loan).value()[0].id, s_.run);
  EXPECT_EQ(s_.bench.begin_run(sample_run(99)).error().code, ErrorCode::not_found);
}

TEST_F(Runs, KeepTheirEvents) {
  ASSERT_TRUE(s_.bench.add_event({.run = s_.run, .at = {1795600001.1}, .kind = "timeout", .text = "no reply 光"}));
  ASSERT_TRUE(s_.bench.end_run(s_.run, RunState::aborted, {1795600002}));
  ASSERT_TRUE(s_.bench.add_event({.run = s_.run, .at = {1795600003}, .kind = "remark", .text = "lamp was on"}));
  const auto events = s_.bench.events(s_.run).value();
  ASSERT_EQ(events.size(), 2u);
  EXPECT_EQ(events[0].at.unix_s, 1795600001.1);
  EXPECT_EQ(events[0].kind, "timeout");
  EXPECT_EQ(events[0].text, "no reply 光");
  EXPECT_EQ(events[1].kind, "remark");
  EXPECT_EQ(s_.bench.add_event({.run = 99}).error().code, ErrorCode::not_found);
}

TEST_F(Runs, TellWhatIsNewAndThatSomebodyWrote) {
  EXPECT_EQ(s_.bench.newest().value().reading, 0);
  const auto version = s_.bench.data_version().value();
  auto other = Bench::open(path_).value();
  ASSERT_TRUE(other.add_event({.run = s_.run, .at = {1}, .kind = "remark", .text = "a"}));
  ASSERT_TRUE(other.add_event({.run = s_.run, .at = {2}, .kind = "remark", .text = "b"}));
  const Id reading = other.add_reading(sample_reading(s_.run, 0)).value();
  EXPECT_NE(s_.bench.data_version().value(), version);
  const auto newest = s_.bench.newest().value();
  EXPECT_EQ(newest.reading, reading);
  const auto events = s_.bench.events_after(newest.event - 1).value();
  ASSERT_EQ(events.size(), 1u);
  EXPECT_EQ(events[0].text, "b");
  EXPECT_EQ(s_.bench.events_after(0).value().size(), 2u);
}

}  // namespace
}  // namespace provenit::store
