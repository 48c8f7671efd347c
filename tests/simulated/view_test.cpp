// Place, angle, mode and long stays: what the simulated display does beyond the centre seen head on.
#include <gmock/gmock.h>

#include "fixture.h"
#include "provenit/colour/spaces.h"

namespace provenit::simulated {
namespace {

using namespace testing;
using instrument::LocalDimming;
using instrument::Placement;

/// Long enough ago that warmth no longer changes.
constexpr Timestamp kWarm{1.8e9 - 1e6};

double distance(const colour::AbsoluteXyz<>& a, const colour::AbsoluteXyz<>& b) {
  const auto p = colour::uv_prime_from_xyz(a), q = colour::uv_prime_from_xyz(b);
  return std::hypot(p.u - q.u, p.v - q.v);
}

class View : public ::testing::TestWithParam<const char*> {
 protected:
  SimulatedClock clock{kStart};
  DisplayPhysics physics = steady(physics_of(GetParam()));
  SimulatedDisplay display{physics, clock, {.powered_on = kWarm}};
  colour::AbsoluteXyz<> at(const signal::Signal& s, const Placement& p, LocalDimming mode = LocalDimming::as_found) {
    return display.truth(s, warm(), p, mode);
  }
};
INSTANTIATE_TEST_SUITE_P(Demo, View, ::testing::Values("tern-32", "curlew-27"),
                         [](const auto& tested) { return std::string(tested.param).substr(0, 4); });

TEST_P(View, TheCentreHeadOnIsWhatItWasWithoutUnevennessAndAngle) {
  auto plain = physics;
  plain.unevenness = {};
  plain.viewing_angle = {};
  plain.stay_dimming = {};
  const SimulatedDisplay flat(plain, clock, {.powered_on = kWarm});
  for (const auto& s : {white(), white(0.1), black(), grey(100)}) {
    EXPECT_EQ(display.truth(s, warm()).Y, flat.truth(s, warm()).Y);
    EXPECT_EQ(at(s, {}).X, flat.truth(s, warm()).X);
  }
}

TEST_P(View, LightDiffersOverThePictureSmoothlyAndByAFewPercent) {
  const double centre = at(grey(100), {}).Y;
  double least = 1, most = 1, jump = 0, before = 0;
  for (int i = 0; i <= 80; ++i) {
    const double x = 0.1 + 0.01 * i;
    for (const double y : {0.1, 0.5, 0.9}) {
      const double share = at(grey(100), {.x = x, .y = y}).Y / centre;
      least = std::min(least, share);
      most = std::max(most, share);
      if (y == 0.5 && i > 0) jump = std::max(jump, std::abs(share - before));
      if (y == 0.5) before = share;
    }
  }
  EXPECT_GT(1 - least / most, 0.01);
  EXPECT_LT(1 - least / most, 0.25);
  EXPECT_LT(jump, 0.01) << "steps of 1 % of the width";
  EXPECT_GT(distance(at(grey(100), {.x = 0.1, .y = 0.1}), at(grey(100), {})), 0.0005);
}

TEST_P(View, LightFallsAndTurnsItsColourWithTheAngle) {
  double last = at(grey(100), {}).Y;
  const auto head_on = at(grey(100), {});
  for (const double angle : {10.0, 20.0, 30.0, 45.0, 60.0}) {
    const auto right = at(grey(100), {.horizontal_deg = angle});
    EXPECT_LT(right.Y, last);
    EXPECT_NEAR(right.Y, at(grey(100), {.horizontal_deg = -angle}).Y, 1e-9);
    EXPECT_LT(at(grey(100), {.vertical_deg = angle}).Y, right.Y);
    last = right.Y;
  }
  EXPECT_LT(last, 0.75 * head_on.Y);
  EXPECT_GT(distance(at(grey(100), {.horizontal_deg = 60}), head_on), 0.002);
}

TEST_P(View, TheMeterSeesWhereItIsPlacedAndWhatIsThere) {
  auto s = white(0.04);
  s.geometry.centre_x = 0.8;
  s.geometry.centre_y = 0.25;
  ASSERT_TRUE(display.show(s));
  const Timestamp later = kStart + Seconds{5};
  const double away = display.light(later).Y;
  ASSERT_TRUE(display.place({.x = 0.8, .y = 0.25}));
  EXPECT_GT(display.light(later).Y, 300 * away);
  EXPECT_EQ(display.light(later).Y, at(s, {.x = 0.8, .y = 0.25}).Y);
  ASSERT_TRUE(display.place({}));
  EXPECT_EQ(display.light(later).Y, away) << "back where it was";
  EXPECT_FALSE(display.place({.x = 1.5}));
  // The patch of an even checkerboard is right of and below the centre.
  auto board = white();
  board.geometry = {.shape = signal::Shape::checkerboard, .columns = 4, .rows = 4};
  EXPECT_GT(at(board, {.x = 0.625, .y = 0.625}).Y, 50 * at(board, {.x = 0.375, .y = 0.625}).Y);
  EXPECT_GT(at(board, {.x = 0.375, .y = 0.375}).Y, 50 * at(board, {.x = 0.625, .y = 0.375}).Y);
}

TEST_P(View, AnAngleErrorIsTheSameEachTimeAndNoneHeadOn) {
  SimulatedDisplay shaky(physics, clock, {.seed = 5, .powered_on = kWarm, .angle_error_deg = 1});
  ASSERT_TRUE(shaky.show(grey(100)));
  const Timestamp later = kStart + Seconds{5};
  EXPECT_EQ(shaky.light(later).Y, at(grey(100), {}).Y);
  const Placement side{.horizontal_deg = 30};
  ASSERT_TRUE(shaky.place(side));
  const double once = shaky.light(later).Y;
  EXPECT_NE(once, at(grey(100), side).Y);
  EXPECT_NEAR(once / at(grey(100), side).Y, 1, 0.1);
  ASSERT_TRUE(shaky.place({}));
  ASSERT_TRUE(shaky.place(side));
  EXPECT_EQ(shaky.light(later).Y, once);
}

TEST_P(View, UnitsDifferInAllOfIt) {
  const auto other = vary(physics, 3);
  EXPECT_NE(other.unevenness.corner, physics.unevenness.corner);
  EXPECT_NE(other.unevenness.lumps[0].amount, physics.unevenness.lumps[0].amount);
  EXPECT_NE(other.viewing_angle.half_deg, physics.viewing_angle.half_deg);
  EXPECT_NE(other.stay_dimming.depth, physics.stay_dimming.depth);
}

TEST_P(View, ALongBrightStayDimsAndRecoversAndShortOnesDoNot) {
  ASSERT_TRUE(display.show(white()));
  const auto& stay = physics.stay_dimming;
  const double first = display.light(kStart + Seconds{5}).Y;
  EXPECT_EQ(display.light(kStart + Seconds{stay.delay_s}).Y, first);
  double last = first;
  for (const double minutes : {1.5, 3.0, 6.0, 12.0, 24.0}) {
    const double now = display.light(kStart + Seconds{60 * minutes}).Y;
    EXPECT_LT(now, last);
    last = now;
  }
  EXPECT_NEAR(last / first, 1 - stay.depth, 0.02);
  clock.wait({1440});
  const Timestamp changed = clock.now();
  ASSERT_TRUE(display.show(white(0.1)));
  const double small = display.truth(white(0.1), warm()).Y;
  const double soon = display.light(changed + Seconds{3}).Y;
  EXPECT_LT(soon, 0.99 * small);
  EXPECT_GT(display.light(changed + Seconds{stay.recovery_s}).Y, soon);
  EXPECT_EQ(display.light(changed + Seconds{6 * stay.recovery_s}).Y, small);
}

TEST(LocalDimming, OffLightsEveryZoneAndSelfEmissiveDisplaysHaveNone) {
  SimulatedClock clock(kStart);
  const auto physics = steady(physics_of("tern-32"));
  SimulatedDisplay tern(physics, clock, {.powered_on = kWarm});
  EXPECT_EQ(tern.truth(black(), warm(), {}, LocalDimming::on).Y, tern.truth(black(), warm()).Y);
  const double off = tern.truth(black(), warm(), {}, LocalDimming::off).Y;
  EXPECT_NEAR(off, physics.leakage.luminance_cdm2 * physics.limiter.points.back().cap, 0.01);
  ASSERT_TRUE(tern.show(black()));
  ASSERT_TRUE(tern.set_local_dimming(LocalDimming::off));
  EXPECT_EQ(tern.light(kStart + tern.lag()).Y, off);
  EXPECT_LT(tern.light(kStart + Seconds{0.01}).Y, off) << "zones take their time";
  ASSERT_TRUE(tern.set_local_dimming(LocalDimming::as_found));
  SimulatedDisplay curlew(steady(physics_of("curlew-27")), clock, {.powered_on = kWarm});
  EXPECT_TRUE(curlew.set_local_dimming(LocalDimming::as_found));
  EXPECT_EQ(curlew.set_local_dimming(LocalDimming::off).error().code, ErrorCode::unsupported);
}

TEST(LocalDimming, ClosedCellsLeakMoreFromTheSide) {
  SimulatedClock clock(kStart);
  SimulatedDisplay tern(steady(physics_of("tern-32")), clock, {.powered_on = kWarm});
  const auto contrast = [&](const Placement& p) {
    return tern.truth(white(), warm(), p, LocalDimming::off).Y / tern.truth(black(), warm(), p, LocalDimming::off).Y;
  };
  EXPECT_LT(contrast({.horizontal_deg = 45}), 0.6 * contrast({}));
}

TEST(PhysicsToml, ReadsAndRefusesUnevennessAngleAndStay) {
  const std::string text = R"(
id = "x"
name = "x"
technology = "x"
claimed_peak_cdm2 = 100
[light]
peak_cdm2 = 100
white = [0.3127, 0.3290]
[primary]
red = { peaks = [{ centre_nm = 620, fwhm_nm = 30, height = 1 }] }
green = { peaks = [{ centre_nm = 530, fwhm_nm = 30, height = 1 }] }
blue = { peaks = [{ centre_nm = 455, fwhm_nm = 20, height = 1 }] }
[decoding]
believed_peak_cdm2 = 100
believed_red = [0.68, 0.32]
believed_green = [0.2, 0.7]
believed_blue = [0.15, 0.05]
believed_white = [0.3127, 0.3290]
[thermal]
fast_s = 60
slow_s = 1000
fast = [0, 0, 0]
slow = [0, 0, 0]
)";
  EXPECT_TRUE(parse_physics(text, "x.toml"));
  const auto physics =
      parse_physics(text +
                        "[viewing_angle]\nhalf_deg = [50, 60, 70]\n[unevenness]\nlumps = [{ x = 0.5, y = "
                        "0.5, width = 0.1, amount = [0.1, 0.2, 0.3] }]\n[stay_dimming]\ndepth = 0.1\n",
                    "x.toml");
  ASSERT_TRUE(physics) << physics.error().text();
  EXPECT_EQ(physics->viewing_angle.half_deg[2], 70);
  EXPECT_EQ(physics->unevenness.lumps.at(0).amount[1], 0.2);
  EXPECT_EQ(physics->stay_dimming.depth, 0.1);
  EXPECT_EQ(parse_physics(text + "[stay_dimming]\ndepth = 2\n", "x.toml").error().where.field, "stay_dimming.depth");
  EXPECT_EQ(parse_physics(text + "[viewing_angle]\nhalf_deg = [50, 60]\n", "x.toml").error().where.field,
            "viewing_angle.half_deg");
}

}  // namespace
}  // namespace provenit::simulated
