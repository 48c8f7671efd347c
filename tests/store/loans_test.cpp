#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

class Loans : public testing::Test {
 protected:
  Scratch scratch_;
  std::string path_ = scratch_.file("a.bench");
  Bench bench_ = Bench::create(path_, "T", "E", {1}).value();
  void reopen() {
    { const Bench closed = std::move(bench_); }
    bench_ = Bench::open(path_).value();
  }
};

TEST_F(Loans, EveryRecordComesBackAsItWasPut) {
  const auto loan = sample_loan(bench_);
  const Id id = bench_.put(loan).value();
  const Id question = bench_.put(sample_question(id)).value();
  reopen();
  expect_same(bench_.display(loan.display).value(), sample_display());
  expect_same(bench_.instrument(loan.instrument).value(), sample_instrument());
  expect_same(bench_.room(loan.room).value(), sample_room());
  expect_same(bench_.loan(id).value(), loan);
  const auto questions = bench_.questions(id).value();
  ASSERT_EQ(questions.size(), 1u);
  EXPECT_EQ(questions[0].id, question);
  expect_same(questions[0], sample_question(id));
  EXPECT_EQ(bench_.displays().value().size(), 1u);
  EXPECT_EQ(bench_.instruments().value().size(), 1u);
  EXPECT_EQ(bench_.rooms().value().size(), 1u);
  EXPECT_EQ(bench_.loans().value().size(), 1u);
}

TEST_F(Loans, PutWithAnIdReplacesThatRowOnly) {
  const Id first = bench_.put(sample_display()).value();
  const Id second = bench_.put(sample_display()).value();
  EXPECT_NE(first, second);
  auto changed = sample_display();
  changed.id = second;
  changed.name = "Curlew 27";
  changed.encoding = {};
  EXPECT_EQ(bench_.put(changed).value(), second);
  expect_same(bench_.display(first).value(), sample_display());
  expect_same(bench_.display(second).value(), changed);
  changed.id = 99;
  EXPECT_EQ(bench_.put(changed).error().code, ErrorCode::not_found);
  EXPECT_EQ(bench_.displays().value().size(), 2u);
}

TEST_F(Loans, OptionalLimitsMayBeUnset) {
  const Id loan = bench_.put(sample_loan(bench_)).value();
  for (const auto mark : {SourceMark::seen, SourceMark::second_hand, SourceMark::calculated,
                          SourceMark::common_practice, SourceMark::claim, SourceMark::from_memory, SourceMark::unset}) {
    auto open = sample_question(loan);
    open.key = name_of(mark);
    open.lower = open.upper = std::nullopt;
    open.mark = mark;
    ASSERT_TRUE(bench_.put(open));
    expect_same(bench_.questions(loan).value().back(), open);
  }
}

TEST_F(Loans, WhatNothingRefersToCanBeTakenBack) {
  const auto record = sample_loan(bench_);
  const Id loan = bench_.put(record).value(), question = bench_.put(sample_question(loan)).value();
  EXPECT_EQ(bench_.remove(RecordKind::display, record.display).error().code, ErrorCode::conflict);
  EXPECT_EQ(bench_.remove(RecordKind::room, record.room).error().code, ErrorCode::conflict);
  EXPECT_EQ(bench_.remove(RecordKind::loan, loan).error().code, ErrorCode::conflict);
  EXPECT_EQ(bench_.remove(RecordKind::question, 99).error().code, ErrorCode::not_found);
  ASSERT_TRUE(bench_.remove(RecordKind::question, question));
  ASSERT_TRUE(bench_.remove(RecordKind::loan, loan));
  ASSERT_TRUE(bench_.remove(RecordKind::display, record.display));
  ASSERT_TRUE(bench_.remove(RecordKind::instrument, record.instrument));
  ASSERT_TRUE(bench_.remove(RecordKind::room, record.room));
  EXPECT_TRUE(bench_.loans().value().empty());
  EXPECT_TRUE(bench_.displays().value().empty());
}

TEST_F(Loans, WhatIsNotThereIsNamed) {
  auto loan = sample_loan(bench_);
  loan.room = 7;
  const auto refused = bench_.put(loan);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::not_found);
  EXPECT_THAT(refused.error().text(), testing::HasSubstr("there is no room 7"));
  EXPECT_EQ(refused.error().where.file, path_);
  EXPECT_EQ(bench_.put(sample_question(3)).error().code, ErrorCode::not_found);
  EXPECT_EQ(bench_.loan(1).error().code, ErrorCode::not_found);
  EXPECT_EQ(bench_.display(-1).error().code, ErrorCode::not_found);
}

TEST_F(Loans, RefusesWhatCannotBeKept) {
  const auto fails_with = [&](const auto& record, ErrorCode code, const char* field) {
    const auto got = bench_.put(record);
    ASSERT_FALSE(got);
    EXPECT_EQ(got.error().code, code) << got.error().text();
    EXPECT_EQ(got.error().where.field, field);
  };
  auto room = sample_room();
  room.surround_cdm2 = std::nan("");
  fails_with(room, ErrorCode::invalid_input, "surround_cdm2");
  auto display = sample_display();
  display.details["list"] = {1, {{"x", INFINITY}}};
  fails_with(display, ErrorCode::invalid_input, "details");
  display = sample_display();
  display.details["name"] = "\xff";
  fails_with(display, ErrorCode::invalid_input, "details");
  display = sample_display();
  display.encoding.bits = 11;
  fails_with(display, ErrorCode::out_of_range, "bits");
  EXPECT_TRUE(bench_.displays().value().empty());
}

TEST_F(Loans, AQuestionIsOnceInItsSet) {
  const Id loan = bench_.put(sample_loan(bench_)).value();
  ASSERT_TRUE(bench_.put(sample_question(loan)));
  EXPECT_EQ(bench_.put(sample_question(loan)).error().code, ErrorCode::conflict);
  auto other = sample_question(loan);
  other.set = "ebu-tech-3320-v4.1";
  EXPECT_TRUE(bench_.put(other));
}

class Together : public testing::Test {
 protected:
  /// Asks for `keys` of the loan at once; each is seen here and not yet by another connection. Ends with `last`.
  Result<void> ask(const std::vector<std::string>& keys, const Result<void>& last) {
    return ours_.bench.together([&]() -> Result<void> {
      for (const auto& key : keys) {
        auto question = sample_question(ours_.loan);
        question.key = key;
        if (const auto id = ours_.bench.put(question); !id) return tl::unexpected(id.error());
        EXPECT_EQ(theirs_.questions(ours_.loan).value().size(), 0u);
      }
      EXPECT_EQ(ours_.bench.questions(ours_.loan).value().size(), keys.size());
      EXPECT_TRUE(ours_.bench.loan(ours_.loan));
      return last;
    });
  }
  [[nodiscard]] std::size_t seen_elsewhere() { return theirs_.questions(ours_.loan).value().size(); }

  Scratch scratch_;
  SampleBench ours_ = make_bench(scratch_.file("a.bench"));
  Bench theirs_ = Bench::open(scratch_.file("a.bench")).value();
};

TEST_F(Together, IsSeenWholeByOthers) {
  ASSERT_TRUE(ask({"a", "b", "c"}, {}));
  EXPECT_EQ(seen_elsewhere(), 3u);
}

TEST_F(Together, StoresNothingAfterAnError) {
  const auto failed = ask({"a", "b"}, fail(ErrorCode::conflict, "no more"));
  ASSERT_FALSE(failed);
  EXPECT_EQ(failed.error().code, ErrorCode::conflict);
  EXPECT_EQ(seen_elsewhere(), 0u);
  EXPECT_EQ(ask({"a", "a"}, {}).error().code, ErrorCode::conflict);  // the same key twice
  EXPECT_EQ(seen_elsewhere(), 0u);
  ASSERT_TRUE(ask({"a"}, {}));
  EXPECT_EQ(seen_elsewhere(), 1u);
}

TEST_F(Together, KeepsWhatASingleFailureDidNotTouch) {
  auto question = sample_question(ours_.loan);
  ASSERT_TRUE(ours_.bench.together([&]() -> Result<void> {
    EXPECT_TRUE(ours_.bench.put(question));
    EXPECT_FALSE(ours_.bench.put(question));
    return {};
  }));
  EXPECT_EQ(seen_elsewhere(), 1u);
  EXPECT_TRUE(ours_.bench.put(sample_display()));  // writes by itself again
  EXPECT_EQ(theirs_.displays().value().size(), 2u);
}

}  // namespace
}  // namespace provenit::store
