// The simulated displays' own controls.
#include <gmock/gmock.h>

#include "fixture.h"

namespace provenit::simulated::testing {
namespace {

using ::testing::HasSubstr;

const SimulatedClock kClock(kStart);

SimulatedDisplay display_of(DisplayPhysics physics) {
  return {steady(std::move(physics)), kClock, {.seed = 3, .powered_on = kStart}};
}
colour::AbsoluteXyz<> light_of(const SimulatedDisplay& d, const signal::Signal& s) {
  return d.truth(s, SimulatedDisplay::settled_thermal());
}
double value_of(const SimulatedDisplay& d, const std::string& name) {
  for (const auto& c : d.controls())
    if (c.name == name) return c.value;
  return -1e9;
}

class Controls : public ::testing::TestWithParam<const char*> {};
INSTANTIATE_TEST_SUITE_P(Displays, Controls, ::testing::Values("tern-32", "curlew-27"));

TEST_P(Controls, AtNeutralTheLightIsThatOfADisplayWithoutThemToTheBit) {
  auto bare = physics_of(GetParam());
  ASSERT_GE(bare.controls.size(), 6u);
  bare.controls.clear();
  const auto with = display_of(physics_of(GetParam())), without = display_of(bare);
  EXPECT_TRUE(without.controls().empty());
  for (const auto& s : {black(), grey(1), grey(100, 0.1), white(0.1), white(), patch({{700, 200, 90}}, 0.2)}) {
    const auto a = light_of(with, s), b = light_of(without, s);
    EXPECT_EQ(a.X, b.X);
    EXPECT_EQ(a.Y, b.Y);
    EXPECT_EQ(a.Z, b.Z);
  }
}

TEST_P(Controls, AGainMovesItsChannelMostAndComesBackToNeutral) {
  auto d = display_of(physics_of(GetParam()));
  const double neutral = value_of(d, "Red gain");
  const auto before = light_of(d, grey(100, 0.1));
  ASSERT_TRUE(d.set_controls({{.name = "Red gain", .value = neutral + 20}}));
  EXPECT_EQ(value_of(d, "Red gain"), neutral + 20);
  const auto after = light_of(d, grey(100, 0.1));
  EXPECT_GT(after.X / before.X, 1.002);
  EXPECT_GT(after.X / before.X - 1, 3 * std::fabs(after.Z / before.Z - 1));
  ASSERT_TRUE(d.set_controls({{.name = "Red gain", .value = neutral}}));
  EXPECT_EQ(light_of(d, grey(100, 0.1)).X, before.X);
}

TEST_P(Controls, AnOffsetMovesDarkGreysMore) {
  auto d = display_of(physics_of(GetParam()));
  const char* name = std::string(GetParam()) == "tern-32" ? "Blue offset" : "Blue bias";
  const auto dark = light_of(d, grey(2, 0.1)), bright = light_of(d, grey(200, 0.1));
  ASSERT_TRUE(d.set_controls({{.name = name, .value = value_of(d, name) + 10}}));
  const double at_dark = light_of(d, grey(2, 0.1)).Z / dark.Z - 1;
  const double at_bright = light_of(d, grey(200, 0.1)).Z / bright.Z - 1;
  EXPECT_GT(at_dark, 5 * at_bright);
  EXPECT_GT(at_bright, 0.0005) << "it moves bright greys too";
}

TEST(ControlsOf, StepsAreNotAllAlikeAndMiddleControlsLeaveTheEndsAlone) {
  auto tern = display_of(physics_of("tern-32"));
  const auto at = [&](double value) {
    EXPECT_TRUE(tern.set_controls({{.name = "Blue gain", .value = value}}));
    return light_of(tern, grey(100, 0.1)).Z;
  };
  EXPECT_GT((at(11) - at(10)) / (at(90) - at(89)), 1.2);
  auto curlew = display_of(physics_of("curlew-27"));
  const auto dark = light_of(curlew, grey(0.05, 0.1)), mid = light_of(curlew, grey(60, 0.1));
  ASSERT_TRUE(curlew.set_controls({{.name = "Green middle", .value = 20}}));
  EXPECT_GT(light_of(curlew, grey(60, 0.1)).Y / mid.Y, 1.02);
  EXPECT_LT(light_of(curlew, grey(0.05, 0.1)).Y / dark.Y, 1.01);
}

TEST(ControlsOf, WhatCannotBeSetIsRefusedAndNothingMoves) {
  auto d = display_of(physics_of("tern-32"));
  const auto why = [&](const instrument::ControlSettings& wanted) {
    const auto set = d.set_controls(wanted);
    return set ? std::string() : set.error().text();
  };
  EXPECT_THAT(why({{.name = "Red gain", .value = 60}, {.name = "Hue", .value = 1}}), HasSubstr("no control 'Hue'"));
  EXPECT_THAT(why({{.name = "Red gain", .value = 101}}), HasSubstr("from 0 to 100"));
  EXPECT_THAT(why({{.name = "Red gain", .value = 50.5}}), HasSubstr("steps of 1"));
  EXPECT_THAT(why({{.name = "Red gain", .value = std::nan("")}}), HasSubstr("Red gain"));
  EXPECT_EQ(value_of(d, "Red gain"), 50);
}

TEST(ControlsOf, AnotherUnitHasTheSameMenuWithOtherEffects) {
  const auto tern = physics_of("tern-32"), unit = vary(tern, 5);
  ASSERT_EQ(unit.controls.size(), tern.controls.size());
  EXPECT_EQ(unit.controls[0].name, tern.controls[0].name);
  EXPECT_EQ(unit.controls[0].step, tern.controls[0].step);
  EXPECT_NE(unit.controls[0].gain[0], tern.controls[0].gain[0]);
}

}  // namespace
}  // namespace provenit::simulated::testing
