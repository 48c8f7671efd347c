// Limiter, zones and how they move.
#include <vector>

#include "fixture.h"

namespace provenit::simulated::testing {
namespace {

TEST(Limiter, MoreLitAreaNeverGivesMoreLight) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  double before = 1e9;
  for (int percent = 1; percent <= 100; ++percent) {
    const double y = display.truth(white(percent / 100.0), warm()).Y;
    EXPECT_LE(y, before * (1 + 1e-12)) << percent;
    before = y;
  }
}

TEST(Limiter, GivesItsOwnPointsAtTheirLoads) {
  SimulatedClock clock(kStart);
  const auto physics = steady(physics_of("curlew-27"));
  SimulatedDisplay display(physics, clock, {});
  const double free = display.truth(white(0.01), warm()).Y;
  for (const auto& p : physics.limiter.points)
    EXPECT_NEAR(display.truth(white(p.load), warm()).Y / free, p.cap, 0.01) << p.load;
}

TEST(Limiter, ItsCurveHasNoStepsInItsSlope) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  const auto y = [&display](double area) { return display.truth(white(area), warm()).Y; };
  // At the inner point at 25 % load the curve goes on falling, and as fast on either side.
  const double left = y(0.24) - y(0.25), right = y(0.25) - y(0.26);
  EXPECT_GT(left, 0.01 * y(0.25));
  EXPECT_NEAR(left / right, 1, 0.15);
}

TEST(Limiter, CountsTheLitCellsOfACheckerboard) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  auto board = white();
  board.geometry = {.shape = signal::Shape::checkerboard, .columns = 3, .rows = 3};
  EXPECT_NEAR(display.truth(board, warm()).Y, display.truth(white(5.0 / 9), warm()).Y, 1e-9);
  board.geometry = {.shape = signal::Shape::checkerboard, .columns = 5, .rows = 7};
  EXPECT_NEAR(display.truth(board, warm()).Y, display.truth(white(17.0 / 35), warm()).Y, 1e-9);
}

TEST(Limiter, LeavesWhatLiesBelowItsCap) {
  SimulatedClock clock(kStart);
  auto physics = steady(physics_of("curlew-27"));
  physics.limiter.dim_share = 0;
  SimulatedDisplay display(physics, clock, {});
  // The level of a channel also shifts its spectrum, but the same signal is at the same level in both.
  EXPECT_NEAR(display.truth(grey(100, 0.02), warm()).Y, display.truth(grey(100), warm()).Y, 1e-9);
  physics.limiter.dim_share = 1;
  SimulatedDisplay dimming(physics, clock, {});
  EXPECT_LT(dimming.truth(grey(200), warm()).Y, 0.97 * dimming.truth(grey(200, 0.02), warm()).Y);
}

TEST(Limiter, AttacksAndRecoversAtItsOwnSpeedAndThenStandsStill) {
  SimulatedClock clock(kStart);
  const auto physics = steady(physics_of("curlew-27"));
  SimulatedDisplay display(physics, clock, {});
  clock.wait({10});
  ASSERT_TRUE(display.show(white()));
  const Timestamp shown = clock.now();
  const double start = display.light(shown).Y, settled = display.truth(white(), warm()).Y;
  EXPECT_NEAR(start, display.truth(white(0.01), warm()).Y, 1);  // not limited yet
  const double left = (display.light(shown + Seconds{physics.limiter.attack_s}).Y - settled) / (start - settled);
  EXPECT_NEAR(left, std::exp(-1), 0.02);
  EXPECT_EQ(display.light(shown + display.lag()).Y, settled);
  EXPECT_NE(display.light(shown + Seconds{0.8 * display.lag().s}).Y, settled);

  clock.wait({10});
  ASSERT_TRUE(display.show(white(0.01)));
  const Timestamp again = clock.now();
  const double from = display.light(again).Y, to = display.truth(white(0.01), warm()).Y;
  EXPECT_NEAR(from, settled, 1);
  EXPECT_NEAR((to - display.light(again + Seconds{physics.limiter.recovery_s}).Y) / (to - from), std::exp(-1), 0.02);
}

TEST(Limiter, AChangeInTheMiddleOfAMoveGoesOnFromThere) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  clock.wait({10});
  ASSERT_TRUE(display.show(white()));
  clock.wait({0.25});
  const double before = display.light(clock.now()).Y;
  ASSERT_TRUE(display.show(white(0.99)));
  EXPECT_NEAR(display.light(clock.now()).Y, before, 1e-6 * before);
}

TEST(Limiter, TheMeanOverAMoveIsTheMeanOfItsMoments) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  ASSERT_TRUE(display.show(white()));
  constexpr int parts = 4000;
  const Seconds span{5};
  double sum = 0;
  for (int i = 0; i < parts; ++i) sum += display.light(kStart + Seconds{span.s * (i + 0.5) / parts}).Y / parts;
  EXPECT_NEAR(display.mean_light(kStart, span).Y / sum, 1, 1e-4);
}

TEST(Refresh, WholeFramesAverageItOutAndPartsOfOneDoNot) {
  SimulatedClock clock(kStart);
  auto physics = steady(physics_of("curlew-27"));
  physics.modulation = 0.5;
  SimulatedDisplay display(physics, clock, {.powered_on = kStart});
  ASSERT_TRUE(display.show(grey(100, 0.02)));
  const Timestamp at = kStart + Seconds{5};
  const double mean = display.light(at).Y;
  EXPECT_NEAR(display.mean_light(at, {7 / 60.0}).Y / mean, 1, 1e-4);
  EXPECT_NEAR(display.mean_light(at, {1 / 120.0}).Y / mean, 1 + 0.5 * 2 / 3.14159265, 1e-4);
}

class Tern : public ::testing::Test {
 protected:
  SimulatedClock clock{kStart};
  DisplayPhysics physics = steady(physics_of("tern-32"));
  double luminance_at(double x, const signal::Signal& s) {
    SimulatedDisplay display(physics, clock, {.spot_x = x});
    return display.truth(s, warm()).Y;
  }
};

TEST_F(Tern, AWindowRaisesTheBlackAroundIt) {
  const auto s = white(0.04);  // x from 0.4 to 0.6
  std::vector<double> halo;
  for (const double x : {0.62, 0.66, 0.70, 0.80, 0.95}) halo.push_back(luminance_at(x, s));
  for (std::size_t i = 1; i < halo.size(); ++i) EXPECT_LT(halo[i], halo[i - 1]);
  const double full_black = luminance_at(0.62, black());
  EXPECT_GT(halo.front(), 20 * full_black);
  EXPECT_LT(halo.back(), 2 * full_black);
  physics.zones.reset();
  physics.unevenness = {};
  EXPECT_NEAR(luminance_at(0.62, s), luminance_at(0.95, s), 1e-12);
  EXPECT_NEAR(luminance_at(0.62, s), physics.leakage.luminance_cdm2, 0.01 * physics.leakage.luminance_cdm2);
}

TEST_F(Tern, FinerCheckerboardsHaveLessContrast) {
  SimulatedDisplay display(physics, clock, {});
  double before = 1e9;
  for (const auto& [columns, rows] : {std::pair{3, 3}, {5, 5}, {7, 5}, {9, 9}, {15, 15}}) {
    auto s = white();
    s.geometry = {.shape = signal::Shape::checkerboard, .columns = columns, .rows = rows};
    const double bright = display.truth(s, warm()).Y;
    std::swap(s.patch, s.surround);
    const double dark = display.truth(s, warm()).Y;
    EXPECT_LT(bright / dark, before) << columns;
    before = bright / dark;
  }
  EXPECT_GT(before, 100);
}

TEST_F(Tern, SmallWindowsLoseABitAndFullFieldMore) {
  SimulatedDisplay display(physics, clock, {});
  const double one = display.truth(white(0.01), warm()).Y, ten = display.truth(white(0.1), warm()).Y,
               all = display.truth(white(), warm()).Y;
  EXPECT_LT(one, 0.97 * ten);
  EXPECT_LT(all, 0.85 * ten);
}

TEST_F(Tern, ZonesRiseAndFallAtTheirOwnSpeed) {
  physics.limiter.points.clear();
  SimulatedDisplay display(physics, clock, {.spot_x = 0.62});
  const auto leak = [&display](double after, Timestamp shown) { return display.light(shown + Seconds{after}).Y; };
  clock.wait({10});
  ASSERT_TRUE(display.show(white(0.04)));
  const Timestamp lit = clock.now();
  const double high = display.truth(white(0.04), warm()).Y, low = display.truth(black(), warm()).Y;
  EXPECT_NEAR((leak(physics.zones->rise_s, lit) - high) / (low - high), std::exp(-1), 0.01);
  clock.wait({10});
  ASSERT_TRUE(display.show(black()));
  const Timestamp dark = clock.now();
  EXPECT_NEAR((leak(physics.zones->fall_s, dark) - low) / (high - low), std::exp(-1), 0.01);
  EXPECT_EQ(leak(display.lag().s, dark), low);
}

TEST_F(Tern, TheSpotDecidesWhatIsRead) {
  EXPECT_GT(luminance_at(0.5, white(0.04)), 1000);
  EXPECT_LT(luminance_at(0.7, white(0.04)), 1);
  EXPECT_LT(luminance_at(0.02, white()), luminance_at(0.5, white()));  // less light from the zones beyond the edge
}

}  // namespace
}  // namespace provenit::simulated::testing
