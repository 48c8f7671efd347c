#include "provenit/procedure/runner.h"

#include <gmock/gmock.h>

#include <limits>
#include <set>

#include "fake_bench.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::Each;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

signal::Signal black() {
  const auto code = signal::black_code({});
  return {.encoding = {}, .patch = code, .surround = code, .geometry = {}};
}

Context quick() {
  return {.parameters = {{"repeats", 2}, {"max_repeats", 2}}};
}

std::vector<std::string> keys(const std::vector<store::ReadingRecord>& readings) {
  std::vector<std::string> all;
  for (const auto& reading : readings) all.push_back(reading.step);
  return all;
}

/// Stops the run once `readings` are stored in this call.
RunOptions stop_after(int readings) {
  auto count = std::make_shared<int>(0);
  RunOptions options;
  options.progress = [count](const Progress& p) { *count += p.phase == Progress::Phase::stored; };
  options.stop_requested = [count, readings] { return *count >= readings; };
  return options;
}

TEST(Runner, ReadsEveryStepStoresItAndEndsOnBlack) {
  FakeBench t;
  const auto outcome = t.run("primaries", quick(), {.origin = "simulated"});
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_FALSE(outcome->resumed);
  const auto readings = t.readings(outcome->run);
  EXPECT_THAT(keys(readings), ElementsAre("reference", "red", "green", "blue", "white", "black", "red", "green", "blue",
                                          "white", "black", "reference"));
  EXPECT_EQ(outcome->readings, 12);
  EXPECT_EQ(outcome->taken, 12);
  EXPECT_EQ(t.display.now(), black());
  const auto run = t.bench.run(outcome->run).value();
  EXPECT_EQ(run.state, store::RunState::finished);
  EXPECT_EQ(run.origin, "simulated");
  EXPECT_EQ(run.parameters["repeats"], 2);
  EXPECT_EQ(run.parameters["level_cdm2"], 203) << "defaults are stored too";
  EXPECT_EQ(run.parameters["context"]["expected_peak_cdm2"], 1000);
}

TEST(Runner, AReadingCarriesWhatItWasAndWhen) {
  FakeBench t;
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  const auto readings = t.readings(outcome->run);
  std::map<std::string, int> seen;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const auto& reading = readings[i];
    EXPECT_EQ(reading.sequence, static_cast<std::int64_t>(i));
    EXPECT_EQ(reading.repeat, seen[reading.step]++) << reading.step;
    EXPECT_EQ(reading.context["attempt"], 1);
    EXPECT_EQ(reading.context["settle_s"], 2.0);
    EXPECT_GE(reading.context["shown_s"].get<double>(), 2.0) << "read before it had settled";
    if (i > 0) {
      EXPECT_GT(reading.taken, readings[i - 1].taken);
    }
  }
  EXPECT_THAT(t.meter.indices, ElementsAre(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11));
}

TEST(Runner, TheSignalIsOnTheDisplayWhenItIsRead) {
  FakeBench t;
  std::vector<signal::Signal> read;
  t.meter.before_measure = [&] { read.push_back(t.display.now()); };
  const auto outcome = t.run("window_peak", quick());
  ASSERT_TRUE(outcome);
  const auto readings = t.readings(outcome->run);
  ASSERT_EQ(read.size(), readings.size());
  for (std::size_t i = 0; i < read.size(); ++i) EXPECT_EQ(read[i], readings[i].signal) << i;
}

TEST(Runner, RestsAreShownAsBlack) {
  FakeBench t;
  const auto outcome = t.run("window_peak", quick());
  ASSERT_TRUE(outcome);
  for (std::size_t i = 1; i < t.display.shown.size(); ++i)
    if (t.display.shown[i - 1].geometry.shape == signal::Shape::full_field && t.display.shown[i - 1] != black()) {
      EXPECT_EQ(t.display.shown[i], black()) << i;
    }
}

TEST(Runner, TheSameSignalIsShownOnceAndSettlesOnce) {
  FakeBench t;
  Context context{.parameters = {{"repeats", 5}, {"max_repeats", 5}}};
  const auto outcome = t.run("white_point", context);
  ASSERT_TRUE(outcome);
  EXPECT_EQ(t.display.shown.size(), 4u) << "reference, white, reference, black";
}

TEST(Runner, TimeOutsAreTriedAgainAndLeaveEventsOnly) {
  FakeBench t;
  const auto timeout = [] { return fail(ErrorCode::timeout, "no reply within 5 s"); };
  t.meter.faults = {nullptr, nullptr, timeout, timeout, nullptr};
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("time_out", "time_out"));
  const auto readings = t.readings(outcome->run);
  EXPECT_EQ(readings.size(), 12u);
  EXPECT_EQ(readings[2].step, "green");
  EXPECT_EQ(readings[2].context["attempt"], 3);
  EXPECT_EQ(readings[2].repeat, 0) << "a failed try is no repeat";
  EXPECT_GE(readings[2].context["shown_s"].get<double>(), 2.0) << "shown afresh for each try";
  // reference, red, green, black, green, black, green: each failed try is followed by black.
  EXPECT_EQ(t.display.shown[3], black());
  EXPECT_EQ(t.display.shown[5], black());
  EXPECT_EQ(t.display.shown[4], t.display.shown[2]);
}

TEST(Runner, ADisplayThatMayShowAnythingIsShownTheSignalAgain) {
  // The second white times out, and the black between the tries fails too: nobody knows what is on the display.
  FakeBench t;
  t.meter.faults = {nullptr, nullptr, [&]() -> Result<instrument::Measurement> {
                      t.display.failures = 1;
                      return fail(ErrorCode::timeout, "no reply");
                    }};
  const Context context{.parameters = {{"repeats", 3}, {"max_repeats", 3}}};
  const auto outcome = t.run("white_point", context);
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("time_out", "display"));
  ASSERT_EQ(t.display.shown.size(), 5u) << "reference, white, white again, reference, black";
  EXPECT_EQ(t.display.shown[2], t.display.shown[1]);
  EXPECT_LT(t.readings(outcome->run)[2].context["shown_s"].get<double>(), 3.0);
}

TEST(Runner, AfterThreeFailuresItPausesAndTheRunResumesWhereItWas) {
  FakeBench t;
  const auto timeout = [] { return fail(ErrorCode::timeout, "no reply within 5 s", "Check the cable."); };
  t.meter.faults = {nullptr, nullptr, timeout, timeout, timeout};
  const auto paused = t.run("primaries", quick());
  ASSERT_TRUE(paused);
  EXPECT_EQ(paused->ending, Ending::paused);
  ASSERT_TRUE(paused->cause);
  EXPECT_EQ(paused->cause->code, ErrorCode::timeout);
  EXPECT_THAT(paused->cause->text(), AllOf(HasSubstr("green"), HasSubstr("3 times"), HasSubstr("no reply within 5 s"),
                                           HasSubstr("Check the cable."), HasSubstr("2 readings are kept")));
  EXPECT_EQ(t.display.now(), black());
  EXPECT_EQ(t.bench.run(paused->run)->state, store::RunState::open);
  EXPECT_THAT(t.event_kinds(paused->run), ElementsAre("time_out", "time_out", "time_out", "paused"));

  const auto finished = t.run("primaries", quick());
  ASSERT_TRUE(finished);
  EXPECT_EQ(finished->run, paused->run);
  EXPECT_TRUE(finished->resumed);
  EXPECT_EQ(finished->ending, Ending::complete);
  EXPECT_EQ(finished->readings, 12);
  EXPECT_EQ(finished->taken, 10);
  EXPECT_THAT(t.event_kinds(finished->run), Contains("resumed"));
}

TEST(Runner, WhatCannotBeAReadingIsRefused) {
  FakeBench t;
  const auto saturated = [] { return instrument::Measurement{.xyz = {1, 1, 1}, .saturated = true}; };
  const auto not_finite = [] {
    return instrument::Measurement{.xyz = {1, std::numeric_limits<double>::quiet_NaN(), 1}};
  };
  const auto garbage = [] { return fail(ErrorCode::invalid_input, "cannot read 'E%7'"); };
  t.meter.faults = {saturated, nullptr, not_finite, nullptr, garbage, nullptr};
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("saturated", "refused", "refused"));
  EXPECT_EQ(outcome->events, 3);
  for (const auto& reading : t.readings(outcome->run)) {
    EXPECT_FALSE(reading.measurement.saturated);
    EXPECT_TRUE(std::isfinite(reading.measurement.xyz.Y));
  }
}

TEST(Runner, AMeterThatAlwaysSaturatesPausesWithAdvice) {
  FakeBench t;
  const auto saturated = [] { return instrument::Measurement{.xyz = {1, 1, 1}, .saturated = true}; };
  t.meter.faults = {saturated, saturated, saturated};
  const auto outcome = t.run("window_peak", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::paused);
  EXPECT_THAT(outcome->cause->text(), HasSubstr("filter"));
  EXPECT_TRUE(t.readings(outcome->run).empty());
}

TEST(Runner, APresenterThatFailsIsTriedAgain) {
  FakeBench t;
  t.display.failures = 1;
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("display"));
}

TEST(Runner, APresenterThatStaysAwayPausesTheRun) {
  FakeBench t;
  t.display.failures = 1000;
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::paused);
  EXPECT_TRUE(t.readings(outcome->run).empty());
  EXPECT_EQ(t.bench.run(outcome->run)->state, store::RunState::open);
}

TEST(Runner, WhatTheInstrumentRefusedIsKeptWithTheRun) {
  FakeBench t;
  t.meter.events = {{.kind = "refused_reply", .text = "no number", .raw = "garbage\\n"}};
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("refused_reply"));
  EXPECT_EQ(t.bench.events(outcome->run)->front().text, "no number: garbage\\n");
}

TEST(Runner, AnOperatorWhoStopsIsNotTriedAgain) {
  FakeBench t;
  t.meter.faults = {nullptr, [] { return fail(ErrorCode::cancelled, "stopped by the operator"); }};
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::stopped);
  EXPECT_EQ(t.meter.indices.size(), 2u);
  EXPECT_EQ(t.readings(outcome->run).size(), 1u);
  EXPECT_EQ(t.bench.run(outcome->run)->state, store::RunState::open);
}

TEST(Runner, StoppedAtAnyReadingItResumesToTheSameRun) {
  for (const char* procedure : {"primaries", "window_peak", "greyscale", "warm_up", "black_level"}) {
    Context context;
    // The pause between two sittings would move the references that come by time.
    if (std::string(procedure) != "warm_up")
      context.parameters = {{"reference_interval_s", 36000.0}, {"max_repeats", 3}};
    if (std::string(procedure) == "greyscale") context.parameters["max_repeats"] = 2;
    FakeBench whole;
    const auto outcome = whole.run(procedure, context);
    ASSERT_TRUE(outcome);
    const auto expected = whole.readings(outcome->run);
    const int stride = 1 + static_cast<int>(expected.size()) / 15;
    for (int k = 1; k < static_cast<int>(expected.size()); k += stride) {
      FakeBench cut;
      const auto first = cut.run(procedure, context, stop_after(k));
      ASSERT_TRUE(first);
      EXPECT_EQ(first->ending, Ending::stopped);
      EXPECT_EQ(first->readings, k);
      EXPECT_EQ(cut.display.now(), black());
      EXPECT_THAT(cut.event_kinds(first->run), ElementsAre("stopped"));
      const auto second = cut.run(procedure, context);
      ASSERT_TRUE(second);
      ASSERT_EQ(second->ending, Ending::complete);
      const auto got = cut.readings(second->run);
      ASSERT_EQ(keys(got), keys(expected)) << procedure << " cut after " << k;
      for (std::size_t i = 0; i < got.size(); ++i) {
        EXPECT_EQ(got[i].signal, expected[i].signal);
        EXPECT_EQ(got[i].repeat, expected[i].repeat);
        EXPECT_GE(got[i].context["shown_s"].get<double>(), got[i].context["settle_s"].get<double>()) << i;
      }
    }
  }
}

TEST(Runner, AStopIsHeardWhileWaiting) {
  FakeBench t;
  const Timestamp start = t.clock.now();
  RunOptions options;
  options.stop_requested = [&] { return (t.clock.now() - start).s >= 45; };
  const auto outcome = t.run("warm_up", {}, options);
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::stopped);
  EXPECT_LT(outcome->spent.s, 46);
}

TEST(Runner, TheStopRuleEndsOptionalRepeatsAndTheReferenceStillCloses) {
  FakeBench t;
  const Context context{.parameters = {{"repeats", 2}, {"max_repeats", 20}}};
  RunOptions options;
  std::vector<std::size_t> asked;
  options.decided = [&](auto readings) {
    asked.push_back(readings.size());
    return readings.size() >= 6 ? Decided::yes : Decided::no;
  };
  const auto outcome = t.run("white_point", context, options);
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::decided);
  EXPECT_THAT(keys(t.readings(outcome->run)),
              ElementsAre("reference", "white", "white", "white", "white", "white", "reference"));
  EXPECT_THAT(asked, ElementsAre(3, 4, 5, 6)) << "asked before each optional repeat and never before a required one";
  EXPECT_EQ(t.bench.run(outcome->run)->state, store::RunState::finished);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("decided"));
}

TEST(Runner, ABudgetDropsOptionalRepeatsAndTheRunEndsWithinIt) {
  FakeBench t;
  const Context context{.parameters = {{"repeats", 1}, {"max_repeats", 50}}};
  const auto outcome = t.run("white_point", context, {.budget = Seconds{20}});
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::decided);
  EXPECT_LE(outcome->spent.s, 20);
  EXPECT_GT(outcome->readings, 4);
  EXPECT_EQ(t.readings(outcome->run).back().step, "reference");
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("budget"));
}

TEST(Runner, ABudgetTooSmallForWhatIsRequiredLeavesTheRunOpen) {
  FakeBench t;
  const auto outcome = t.run("greyscale", quick(), {.budget = Seconds{60}});
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::budget);
  EXPECT_LE(outcome->spent.s, 60);
  EXPECT_GT(outcome->readings, 3);
  EXPECT_EQ(t.bench.run(outcome->run)->state, store::RunState::open);
  EXPECT_EQ(t.display.now(), black());
}

TEST(Runner, DriftOfTheReferenceIsToldOnce) {
  // 5 % brighter from 60 s on.
  FakeBench t([](const auto& s, Seconds since) { return ideal_light(s, 1000) * (since.s > 20 ? 1.05 : 1); });
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::complete);
  const auto events = t.bench.events(outcome->run).value();
  ASSERT_EQ(events.size(), 1u);
  EXPECT_EQ(events[0].kind, "drift");
  EXPECT_THAT(events[0].text, HasSubstr("+5.00 %"));
  FakeBench steady;
  EXPECT_THAT(steady.event_kinds(steady.run("primaries", quick())->run), ElementsAre());
}

TEST(Runner, LightThatComesIntoTheRoomIsTold) {
  // 0.05 cd/m2 on everything once the first black has been read.
  const auto lit = [](double cdm2) {
    return [cdm2](const auto& s, Seconds since) { return ideal_light(s, 1000) + (since.s > 25 ? cdm2 : 0); };
  };
  FakeBench t(lit(0.05));
  const auto outcome = t.run("primaries", quick());
  ASSERT_TRUE(outcome);
  EXPECT_THAT(t.event_kinds(outcome->run), ElementsAre("room_light"));
  EXPECT_THAT(t.bench.events(outcome->run).value()[0].text,
              HasSubstr("black reads 0.054 cd/m2 where it read 0.004 cd/m2"));
  FakeBench noise(lit(0.001));
  EXPECT_THAT(noise.event_kinds(noise.run("primaries", quick())->run), ElementsAre());
}

TEST(Runner, OtherParametersBeginARunOfTheirOwn) {
  FakeBench t;
  const auto first = t.run("primaries", quick(), stop_after(3));
  ASSERT_TRUE(first);
  Context other = quick();
  other.parameters["level_cdm2"] = 100.0;
  const auto second = t.run("primaries", other);
  ASSERT_TRUE(second);
  EXPECT_NE(second->run, first->run);
  Context encoding = quick();
  encoding.encoding.bits = 12;
  EXPECT_NE(t.run("primaries", encoding)->run, first->run);
  const auto third = t.run("primaries", quick());
  EXPECT_EQ(third->run, first->run);
}

TEST(Runner, APlanMadeAnewDoesNotLeaveAnOpenRunBehind) {
  FakeBench t;
  const auto first = t.run("primaries", quick(), stop_after(3));
  ASSERT_TRUE(first);
  Context other{.expected_peak_cdm2 = 1500, .expected_black_cdm2 = 0.001};
  other.parameters = {{"repeats", 1}, {"max_repeats", 5}};
  const auto second = t.run("primaries", other);
  ASSERT_TRUE(second);
  EXPECT_EQ(second->run, first->run);
  EXPECT_EQ(second->readings, 12) << "it goes on as it was begun, with two passes";
}

TEST(Runner, AResumedRunKeepsTheParametersItWasBegunWith) {
  FakeBench t;
  Context begun = quick();
  begun.encoding.bits = 12;
  begun.expected_peak_cdm2 = 150;  // holds the level of white below the 203 cd/m2 asked for
  const auto first = t.run("primaries", begun, stop_after(3));
  ASSERT_TRUE(first);
  Context other;
  other.parameters["level_cdm2"] = 50.0;
  RunOptions options;
  options.resume = first->run;
  const auto second = t.run("primaries", other, options);
  ASSERT_TRUE(second) << second.error().text();
  EXPECT_EQ(second->run, first->run);
  std::set<std::pair<int, int>> whites;
  const auto readings = t.readings(first->run);
  for (const auto& reading : readings)
    if (reading.step == "white") whites.insert({reading.signal.encoding.bits, reading.signal.patch.code[0]});
  const auto code = signal::grey_code(begun.encoding, colour::Luminance<>{.cdm2 = 150});
  EXPECT_THAT(whites, ElementsAre(std::pair{12, code->code[0]}));
  EXPECT_EQ(second->readings, 12);
}

TEST(Runner, WhatCannotBeResumedIsRefused) {
  FakeBench t;
  const auto done = t.run("primaries", quick());
  ASSERT_TRUE(done);
  RunOptions options;
  options.resume = done->run;
  const auto ended = t.run("primaries", quick(), options);
  ASSERT_FALSE(ended);
  EXPECT_EQ(ended.error().code, ErrorCode::conflict);
  const auto open = t.run("white_point", {}, stop_after(2));
  options.resume = open->run;
  const auto other = t.run("primaries", quick(), options);
  ASSERT_FALSE(other);
  EXPECT_EQ(other.error().code, ErrorCode::conflict);
  options.resume = 4711;
  EXPECT_FALSE(t.run("primaries", quick(), options));
}

TEST(Runner, ParametersThatCannotBeUsedAreRefusedBeforeAnythingIsWritten) {
  FakeBench t;
  const auto outcome = t.run("primaries", {.parameters = {{"levels", 5}}});
  ASSERT_FALSE(outcome);
  EXPECT_EQ(outcome.error().code, ErrorCode::invalid_input);
  EXPECT_TRUE(t.bench.runs(t.loan)->empty());
  EXPECT_TRUE(t.display.shown.empty());
}

TEST(Runner, ProgressCountsUpAndTimeLeftRunsOut) {
  FakeBench t;
  const auto start = t.clock.now();
  struct Told {
    Timestamp at;
    int done, total;
    double left;
  };
  std::vector<Told> told;
  RunOptions options;
  options.progress = [&](const Progress& p) {
    ASSERT_NE(p.step, nullptr);
    EXPECT_FALSE(p.signal_text.empty());
    told.push_back({t.clock.now(), p.done, p.expected_total, p.left.s});
    if (p.phase == Progress::Phase::stored) {
      EXPECT_EQ(p.last->sequence + 1, p.done);
    }
  };
  const auto outcome = t.run("greyscale", quick(), options);
  ASSERT_TRUE(outcome);
  const double total = (t.clock.now() - start).s;
  ASSERT_GT(told.size(), 100u);
  for (const auto& now : told) {
    EXPECT_GE(now.total, now.done);
    EXPECT_NEAR(now.left, total - (now.at - start).s, 0.1 * total);
  }
  EXPECT_EQ(told.back().done, outcome->readings);
  EXPECT_EQ(told.back().total, outcome->readings);
}

TEST(Runner, EveryReadingIsInTheFileBeforeTheNextIsAskedFor) {
  FakeBench t;
  // What another process would see at the start of each reading.
  auto other = store::Bench::open(t.bench.path());
  ASSERT_TRUE(other);
  std::vector<std::int64_t> seen;
  t.meter.before_measure = [&] { seen.push_back(other->reading_count().value()); };
  ASSERT_TRUE(t.run("primaries", quick()));
  EXPECT_THAT(seen, ElementsAre(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11));
}

}  // namespace
}  // namespace provenit::procedure
