// Moving the meter, switching the display's mode, staying: what the runner and the estimate make of a step's wishes.
#include <gmock/gmock.h>

#include "fake_bench.h"
#include "play.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

using instrument::LocalDimming;
using instrument::Placement;
using testing::Contains;
using testing::Each;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::SizeIs;

/// A person who does what is asked, and keeps what was asked and what was on the display then.
class Person final : public instrument::Presenter {
 public:
  Person(FakeDisplay& display, FakeClock& clock) : display_(display), clock_(clock) {}
  Result<void> show(const signal::Signal& signal) override { return display_.show(signal); }
  Result<void> place(const Placement& placement) override {
    places.push_back(placement);
    if (!display_.shown.empty()) on_display.push_back(display_.now());
    if (placement != stands_) clock_.wait(instrument::kUsualMove);
    stands_ = placement;
    return {};
  }
  Result<void> set_local_dimming(LocalDimming mode) override {
    modes.push_back(mode);
    return {};
  }
  std::vector<Placement> places;
  std::vector<LocalDimming> modes;
  std::vector<signal::Signal> on_display;

 private:
  FakeDisplay& display_;
  FakeClock& clock_;
  Placement stands_;
};

struct Asked {
  FakeBench t;
  Person person{t.display, t.clock};
  Result<RunOutcome> run(const char* procedure, const nlohmann::json& parameters, const RunOptions& options = {}) {
    const Equipment equipment{t.bench, t.meter, person, t.clock};
    return run_procedure(equipment, t.loan, *find_procedure(procedure), {.parameters = parameters}, options);
  }
};

Placement placement_of(const store::ReadingRecord& reading) {
  return instrument::placement_from_json(reading.context.at("placement")).value();
}

TEST(Placements, TheMeterIsMovedOnlyWhereThePlaceChangesAndEachReadingKeepsIt) {
  Asked a;
  const auto outcome = a.run("uniformity", {{"reference_interval_s", 36000.0}});
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_EQ(outcome->ending, Ending::complete);
  const auto readings = a.t.readings(outcome->run);
  ASSERT_THAT(readings, SizeIs(29)) << "three at each point";
  // Told once at the start, then at each change: nine points (the fifth is the centre), and the centre again.
  EXPECT_THAT(a.person.places, SizeIs(11));
  EXPECT_EQ(a.person.places.front(), Placement{});
  std::vector<Placement> kept;
  for (const auto& r : readings)
    if (kept.empty() || placement_of(r) != kept.back()) kept.push_back(placement_of(r));
  EXPECT_EQ(kept, a.person.places);
  EXPECT_EQ(placement_of(readings[1]), (Placement{.x = 0.5 / 3, .y = 0.5 / 3}));
  EXPECT_EQ(readings[10].step, "point_3_2") << "the second row is read backwards";
  EXPECT_FALSE(readings[1].context.contains("local_dimming"));
  // Where the meter does not move, it is placed once.
  Asked still;
  ASSERT_TRUE(still.run("white_point", nlohmann::json::object()));
  EXPECT_THAT(still.person.places, ElementsAre(Placement{}));
  EXPECT_THAT(still.person.modes, ElementsAre(LocalDimming::as_found));
}

TEST(Placements, WhereNobodyCanBeAskedTheRunPausesAndSaysWhy) {
  FakeBench t;
  const auto outcome = t.run("uniformity");
  ASSERT_TRUE(outcome);
  EXPECT_EQ(outcome->ending, Ending::paused);
  ASSERT_TRUE(outcome->cause);
  EXPECT_THAT(outcome->cause->text(), HasSubstr("nobody can be asked to move the meter"));
  EXPECT_EQ(outcome->readings, 1) << "the centre needs no move";
}

TEST(Placements, AResumedRunGoesOnWhereTheMeterHasToBe) {
  Asked a;
  int stored = 0;
  RunOptions options;
  options.progress = [&](const Progress& p) { stored += p.phase == Progress::Phase::stored; };
  options.stop_requested = [&] { return stored >= 10; };
  const nlohmann::json parameters{{"reference_interval_s", 36000.0}};
  const auto first = a.run("uniformity", parameters, options);
  ASSERT_TRUE(first);
  EXPECT_EQ(first->ending, Ending::stopped);
  a.person.places.clear();
  const auto second = a.run("uniformity", parameters);
  ASSERT_TRUE(second);
  EXPECT_TRUE(second->resumed);
  EXPECT_EQ(a.person.places.front(), (Placement{.x = 2.5 / 3, .y = 0.5}));
  EXPECT_EQ(second->readings, 29);
}

TEST(Placements, BrightSignalsAreOffWhileTheMeterIsMoved) {
  Asked a;
  ASSERT_TRUE(a.run("halo", {{"distances_percent", {4.0, 8.0, 16.0}}}));
  const auto black = signal::black_code({});
  int bright = 0;
  for (const auto& s : a.person.on_display) bright += s.patch != black && s.geometry.shape == signal::Shape::window;
  // The window stays on from place to place for max_bright_dwell_s at most.
  EXPECT_LT(bright, static_cast<int>(a.person.on_display.size()));
}

TEST(LocalDimmingModes, AreAskedForKeptAndTakenBack) {
  Asked a;
  const auto outcome =
      a.run("checkerboard", {{"columns", 4}, {"rows", 4}, {"local_dimming", "both"}, {"max_repeats", 2}});
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_EQ(outcome->ending, Ending::complete);
  EXPECT_THAT(a.person.modes, ElementsAre(LocalDimming::on, LocalDimming::off, LocalDimming::on));
  EXPECT_THAT(a.person.places, ElementsAre(Placement{.x = 0.625, .y = 0.625}));
  for (const auto& r : a.t.readings(outcome->run)) {
    const bool off = r.step.ends_with("_off");
    EXPECT_EQ(r.context["local_dimming"], off ? "off" : "on") << r.step;
  }
  a.person.modes.clear();
  ASSERT_TRUE(a.run("white_point", nlohmann::json::object()));
  EXPECT_THAT(a.person.modes, ElementsAre(LocalDimming::as_found));
}

TEST(Stays, ReadAfterTheTimeAskedForAndWithoutABreak) {
  Asked a;
  const auto outcome = a.run("sustained", {{"stay_minutes", {0.5, 2.0}}, {"recovery_minutes", {0.5}}});
  ASSERT_TRUE(outcome) << outcome.error().text();
  const auto readings = a.t.readings(outcome->run);
  std::map<std::string, double> shown;
  for (const auto& r : readings) shown.try_emplace(r.step, r.context["shown_s"].get<double>());
  EXPECT_NEAR(shown["stay_0"], 3, 0.01);
  EXPECT_NEAR(shown["stay_30"], 30, 0.01);
  EXPECT_NEAR(shown["stay_120"], 120, 0.01);
  EXPECT_NEAR(shown["after_30"], 30, 0.01);
  std::vector<signal::Signal> after_rest;
  const auto stay = std::ranges::find(readings, "stay_0", &store::ReadingRecord::step);
  EXPECT_GE((stay->taken - std::prev(stay)->taken).s, 63) << "rested before";
  EXPECT_EQ(std::ranges::count(a.t.display.shown, stay->signal), 1);
}

TEST(Stays, AReferenceThatHasNotRecoveredIsNoDriftEvent) {
  FakeBench t([](const signal::Signal& s, Seconds since) { return ideal_light(s, 1000) * (since.s > 600 ? 0.9 : 1); });
  Person person(t.display, t.clock);
  const Equipment equipment{t.bench, t.meter, person, t.clock};
  const auto sustained = run_procedure(equipment, t.loan, *find_procedure("sustained"), {});
  ASSERT_TRUE(sustained);
  EXPECT_THAT(t.event_kinds(sustained->run), testing::Not(Contains("drift")));
}

TEST(Stays, AStoppedOneBeginsAnew) {
  Asked a;
  int stored = 0;
  RunOptions options;
  options.progress = [&](const Progress& p) { stored += p.phase == Progress::Phase::stored; };
  options.stop_requested = [&] { return stored >= 7; };
  const nlohmann::json parameters{{"stay_minutes", {0.5, 2.0}}, {"recovery_minutes", {0.5}}};
  ASSERT_TRUE(a.run("sustained", parameters, options));
  a.t.clock.wait({500});
  const auto outcome = a.run("sustained", parameters);
  ASSERT_TRUE(outcome);
  for (const auto& r : a.t.readings(outcome->run))
    if (r.step == "stay_120" && r.repeat == 0) {
      EXPECT_NEAR(r.context["shown_s"].get<double>(), 120, 0.01);
    }
}

TEST(Estimate, CountsMovesAndStays) {
  const Context context;
  const auto cost = [&](const char* id, nlohmann::json parameters) {
    Context with = context;
    with.parameters = std::move(parameters);
    return estimate(*find_procedure(id), with, 1).value().total.s;
  };
  const double slow = cost("uniformity", {{"move_s", 100.0}, {"reference_interval_s", 36000.0}}),
               quick = cost("uniformity", {{"move_s", 10.0}, {"reference_interval_s", 36000.0}});
  EXPECT_NEAR(slow - quick, 10 * 90, 1e-6) << "ten moves: out, through the grid and back";
  const double ten = cost("sustained", {{"stay_minutes", {1.0, 10.0}}, {"recovery_minutes", {1.0}}}),
               twenty = cost("sustained", {{"stay_minutes", {1.0, 20.0}}, {"recovery_minutes", {1.0}}});
  EXPECT_NEAR(twenty - ten, 600, 1);
  // The run itself takes what was estimated.
  Asked a;
  const auto estimated = estimate(*find_procedure("off_axis"), context, 3).value();
  const auto begun = a.t.clock.now();
  ASSERT_TRUE(a.run("off_axis", nlohmann::json::object()));
  EXPECT_NEAR((a.t.clock.now() - begun).s / estimated.total.s, 1, 0.05);
}

TEST(Estimate, SignalsKnowTheirPlace) {
  const auto signals = signals_of(*find_procedure("off_axis"), {}).value();
  const auto left = std::ranges::find(signals, "left_45", &NamedSignal::step);
  ASSERT_NE(left, signals.end());
  EXPECT_EQ(left->placement, (Placement{.horizontal_deg = -45}));
  const auto modes = signals_of(*find_procedure("checkerboard"), {.parameters = {{"local_dimming", "off"}}}).value();
  EXPECT_EQ(modes.back().local_dimming, LocalDimming::off);
}

TEST(Grids, HoldTheirPointsOnceAndOthersAreRefused) {
  for (const auto& [points, columns, rows] : {std::tuple{9, 3, 3}, {25, 5, 5}, {99, 11, 9}}) {
    const auto played = play(*find_procedure("uniformity"), {.parameters = {{"points", points}}},
                             [](const auto&, double) { return 100.0; });
    ASSERT_TRUE(played);
    std::map<std::string, Placement> places;
    for (const auto& step : played->steps)
      if (step.key != "reference") places[step.key] = step.placement;
    EXPECT_THAT(places, SizeIs(static_cast<std::size_t>(points)));
    const auto centre = std::ranges::count_if(places, [](const auto& p) { return p.second == Placement{}; });
    EXPECT_EQ(centre, 1) << points;
    EXPECT_NEAR(places["point_1_1"].x, 0.5 / columns, 1e-12);
    EXPECT_NEAR(places["point_1_1"].y, 0.5 / rows, 1e-12);
  }
  const auto refused = find_procedure("uniformity")->next({.parameters = {{"points", 10}}}, {});
  EXPECT_EQ(refused.error().where.field, "points");
}

TEST(Halo, StaysInsideThePicture) {
  const auto* halo = find_procedure("halo");
  EXPECT_EQ(halo->next({.parameters = {{"distances_percent", {42.0}}}}, {}).error().where.field, "distances_percent");
  EXPECT_EQ(halo->next({.parameters = {{"window_percent", 36.0}, {"bar_percent", 40.1}}}, {}).error().code,
            ErrorCode::out_of_range);
  const auto signals = signals_of(*halo, {}).value();
  const auto bar = std::ranges::find(signals, "bar", &NamedSignal::step);
  const auto& g = bar->signal.geometry;
  EXPECT_NEAR(g.centre_y - std::sqrt(g.area_fraction) / 2, 0.128, 1e-12) << "the window touches the bar";
  EXPECT_NEAR(bar->placement.y, 0.064, 1e-12);
}

TEST(Cautions, LongStaysSaySo) {
  EXPECT_THAT(find_procedure("sustained")->caution(), HasSubstr("self-emissive"));
  EXPECT_THAT(find_procedure("stability")->caution(), HasSubstr("hours"));
  EXPECT_EQ(find_procedure("white_point")->caution(), "");
}

}  // namespace
}  // namespace provenit::procedure
