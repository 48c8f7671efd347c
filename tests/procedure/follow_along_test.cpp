// Follow-along clips: the schedule, the markers' words, and staying in step with a player that does not behave.
#include "provenit/procedure/follow_along.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <set>

#include "follow_player.h"
#include "provenit/procedure/estimate.h"

namespace provenit::procedure {
namespace {

Context usual() {
  Context context;
  context.expected_peak_cdm2 = 1000;
  return context;
}

FollowPlan plan_of(const std::vector<std::string>& ids, const Context& context, const FollowOptions& options = {}) {
  std::vector<FollowRequest> requests;
  for (const auto& id : ids) requests.push_back({find_procedure(id)});
  return make_follow_schedule(requests, context, options).value();
}

const FollowSchedule& schedule() {
  static const auto* const made = new FollowSchedule(
      plan_of({"white_point", "primaries", "window_peak", "black_level", "greyscale"}, usual()).schedule);
  return *made;
}

std::vector<double> ideal_light(const FollowSchedule& s) {
  std::vector<double> out;
  for (const auto& h : s.holds) out.push_back(0.0004 + ideal_luminance_cdm2(h.signal, 1000));
  return out;
}

struct Trial {
  int wanted = 0, placed = 0, wrong = 0, unsettled = 0;
  std::set<std::string> events;
};

Trial follow(const FollowSchedule& s, const PlayerFaults& faults, std::uint64_t seed) {
  const auto light = ideal_light(s);
  const TestPlayer player(s, faults);
  const auto stream = player.read([&](std::size_t h) { return light[h]; }, {}, seed);
  FollowAlong follow(s);
  Trial trial;
  std::vector<int> said(stream.size(), 0);
  const auto take = [&](const FollowNews& news) {
    for (const auto& e : news.events) trial.events.insert(e.kind);
    for (const auto& p : news.placed) {
      ++said[p.reading];
      if (!p.hold) continue;
      ++trial.placed;
      const auto& r = stream[p.reading];
      if (player.hold(r.from) != p.hold || player.hold(r.to) != p.hold) ++trial.wrong;
      double begin = 0;
      for (std::size_t i = 0; i < *p.hold; ++i) begin += s.seconds(s.holds[i].frames).s;
      // A reply that comes twice is found out where it crosses to another step, not within one.
      if (!r.doubled && r.from < begin + s.holds[*p.hold].settle.s) ++trial.unsettled;
    }
  };
  for (const auto& r : stream) take(follow.take(r.reading));
  take(follow.finish());
  for (const int times : said) EXPECT_EQ(times, 1) << "every reading is placed or thrown out, once";
  for (const auto& h : s.holds) trial.wanted += h.readings;
  EXPECT_EQ(follow.complete(), trial.placed == trial.wanted);
  return trial;
}

TEST(FollowSchedule, WordsDifferInMoreThanTwoMissedSymbolsHide) {
  std::vector<MarkerWord> words;
  for (int n = 1; n <= kMostMarkers; ++n) words.push_back(marker_word(n));
  for (std::size_t i = 0; i < words.size(); ++i) {
    EXPECT_EQ(words[i][0], 3);
    EXPECT_EQ(words[i][1], 0);
    for (std::size_t j = i + 1; j < words.size(); ++j) {
      int differ = 0;
      for (int s = 0; s < kMarkerSymbols; ++s) differ += words[i][s] != words[j][s] ? 1 : 0;
      ASSERT_GE(differ, 2) << i + 1 << " and " << j + 1;
    }
  }
}

TEST(FollowSchedule, HoldsTheRequiredStepsOfEachProcedureInOrder) {
  const auto context = usual();
  const auto plan = plan_of({"white_point", "greyscale"}, context);
  EXPECT_THAT(plan.left_out, testing::IsEmpty());
  for (const std::string id : {"white_point", "greyscale"}) {
    std::set<std::string> in_clip, wanted;
    for (const auto& h : plan.schedule.holds)
      if (h.procedure == id) in_clip.insert(h.step);
    const auto signals = signals_of(*find_procedure(id), context).value();
    for (const auto& s : signals) wanted.insert(s.step);
    EXPECT_EQ(in_clip, wanted) << id;
  }
  int white = 0;
  for (const auto& h : plan.schedule.holds) white += h.step == "white" ? h.readings : 0;
  EXPECT_EQ(white, 3);
}

TEST(FollowSchedule, JsonGivesTheScheduleBackAndNamesWhatItRefuses) {
  const auto& s = schedule();
  const auto json = nlohmann::json::parse(to_json(s).dump());
  const auto back = follow_schedule_from_json(json).value();
  EXPECT_EQ(to_json(back).dump(), to_json(s).dump());
  EXPECT_EQ(back.frames(), s.frames());
  auto damaged = json;
  damaged["holds"][3].erase("frames");
  const auto refused = follow_schedule_from_json(damaged);
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().text(), testing::HasSubstr("holds[3]"));
  damaged = json;
  damaged["version"] = 99;
  EXPECT_EQ(follow_schedule_from_json(damaged).error().code, ErrorCode::unsupported);
  EXPECT_FALSE(follow_schedule_from_json(nlohmann::json::array()));
}

TEST(FollowSchedule, LeavesOutWhatAStillMeterAndAFixedListCannotDo) {
  const auto plan = plan_of({"uniformity", "warm_up", "white_point"}, usual());
  ASSERT_EQ(plan.left_out.size(), 2U);
  EXPECT_EQ(plan.left_out[0], (std::pair<std::string, std::string>{"uniformity", "it moves the meter"}));
  EXPECT_EQ(plan.left_out[1].first, "warm_up");
  for (const auto& h : plan.schedule.holds) EXPECT_THAT(h.procedure, testing::AnyOf("", "white_point"));
  for (const auto& r : plan.schedule.runs) EXPECT_EQ(r.procedure, "white_point");
  const auto none = make_follow_schedule({{find_procedure("warm_up")}}, usual());
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::out_of_range);
}

TEST(FollowSchedule, NoPictureIsShortEnoughToFlash) {
  EXPECT_GE(shortest_hold(schedule()).s, 0.5);
  for (const auto& h : schedule().holds)
    if (h.marker > 0) {
      EXPECT_LE(h.signal.geometry.area_fraction, 0.25);
      EXPECT_LE(ideal_luminance_cdm2(h.signal, 1000), 101);
      EXPECT_GE(schedule().seconds(h.frames).s, 0.5);
    }
}

TEST(FollowSchedule, EveryMarkerHasItsOwnNumberAndBlocksAreShort) {
  const auto markers = schedule().markers();
  ASSERT_GE(markers.size(), 4U);
  for (std::size_t i = 0; i < markers.size(); ++i) EXPECT_EQ(markers[i].number, static_cast<int>(i) + 1);
  EXPECT_EQ(schedule().holds.back().readings, 0);
}

TEST(FollowAlong, AnUndisturbedClipGivesEveryReading) {
  const auto trial = follow(schedule(), {.start_s = 12.3}, 1);
  EXPECT_EQ(trial.placed, trial.wanted);
  EXPECT_EQ(trial.wrong + trial.unsettled, 0);
  EXPECT_THAT(trial.events, testing::ElementsAre("marker"));
}

TEST(FollowAlong, NoReadingIsEverGivenToAWrongStep) {
  std::mt19937_64 random(20250704);
  std::uniform_real_distribution<double> share(0, 1);
  const int trials = 300;
  int wanted = 0, placed = 0, wrong = 0, unsettled = 0, paused = 0;
  for (int i = 0; i < trials; ++i) {
    PlayerFaults faults{.start_s = 60 * share(random),
                        .rate = 0.02 * share(random) - 0.01,
                        .lost = 0.15 * share(random),
                        .late = 0.15 * share(random),
                        .doubled = 0.05 * share(random),
                        .display_gain = 0.7 + 0.5 * share(random)};
    if (i % 3 == 0) {
      faults.pause_at_s = faults.start_s + 1200 * share(random);
      faults.pause_s = i % 2 == 0 ? 3 * share(random) : 90 * share(random);
    }
    const auto trial = follow(schedule(), faults, 1000 + static_cast<std::uint64_t>(i));
    wanted += trial.wanted, placed += trial.placed, wrong += trial.wrong, unsettled += trial.unsettled;
    paused += static_cast<int>(trial.events.count("pause"));
  }
  EXPECT_EQ(wrong, 0);
  EXPECT_EQ(unsettled, 0);
  EXPECT_GT(paused, 10);
  // Of faults as heavy as these; a second playing fills what is missing.
  const double recovered = 100.0 * placed / wanted;
  RecordProperty("recovered_percent", std::to_string(recovered));
  EXPECT_GT(recovered, 75);
}

TEST(FollowAlong, FewLostReadingsCostLittle) {
  int wanted = 0, placed = 0, wrong = 0;
  for (int i = 0; i < 50; ++i) {
    const PlayerFaults faults{.start_s = 7.3 * i, .rate = 0.0004 * (i - 25), .lost = 0.02, .late = 0.02};
    const auto trial = follow(schedule(), faults, 5000 + static_cast<std::uint64_t>(i));
    wanted += trial.wanted, placed += trial.placed, wrong += trial.wrong + trial.unsettled;
  }
  EXPECT_EQ(wrong, 0);
  RecordProperty("recovered_percent", std::to_string(100.0 * placed / wanted));
  EXPECT_GT(100.0 * placed / wanted, 95);
}

TEST(FollowAlong, APauseCostsOnlyWhatItTouches) {
  const auto markers = schedule().markers();
  const double middle = (markers[2].start.s + markers[3].start.s) / 2;
  const auto calm = follow(schedule(), {.start_s = 5}, 3);
  const auto paused = follow(schedule(), {.start_s = 5, .pause_at_s = 5 + middle, .pause_s = 40}, 3);
  EXPECT_EQ(paused.wrong + paused.unsettled, 0);
  EXPECT_TRUE(paused.events.contains("pause"));
  EXPECT_GT(paused.placed, calm.placed * 3 / 4);
  EXPECT_LT(paused.placed, calm.placed);
}

TEST(FollowAlong, AfterAGapTheNextMarkersBringItBackAndASecondPlayingFillsWhatIsMissing) {
  const auto& s = schedule();
  const auto light = ideal_light(s);
  const TestPlayer first(s, {.start_s = 10});
  const auto stream = first.read([&](std::size_t h) { return light[h]; }, {}, 5);
  FollowAlong follow(s);
  const double again = stream.back().reading.to.unix_s + 300;
  int placed = 0;
  bool jumped = false;
  const auto take = [&](const FollowNews& news) {
    for (const auto& p : news.placed) placed += p.hold ? 1 : 0;
    for (const auto& e : news.events) jumped |= e.kind == "jump";
  };
  for (const auto& r : stream)
    if (r.from < 300 || r.from > 700) take(follow.take(r.reading));
  EXPECT_FALSE(follow.complete());
  const int after_first = placed;
  EXPECT_GT(after_first, 0);
  for (auto r : stream) {
    r.reading.from = r.reading.from + Seconds{again}, r.reading.to = r.reading.to + Seconds{again};
    take(follow.take(r.reading));
  }
  take(follow.finish());
  EXPECT_TRUE(jumped) << "back to the first marker";
  EXPECT_TRUE(follow.complete());
}

TEST(FollowAlong, RefusesReadingsOutOfOrder) {
  FollowAlong follow(schedule());
  (void)follow.take({{100}, {101}, 5});
  const auto news = follow.take({{90}, {91}, 5});
  ASSERT_EQ(news.placed.size(), 1U);
  EXPECT_FALSE(news.placed[0].hold);
  ASSERT_EQ(news.events.size(), 1U);
  EXPECT_EQ(news.events[0].kind, "out_of_order");
}

}  // namespace
}  // namespace provenit::procedure
