#include "provenit/signal/showing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "provenit/signal/codes.h"

namespace provenit::signal {
namespace {

const Encoding kPq{.transfer = Transfer::pq, .container = Container::bt2020, .bits = 10, .range = Range::full};

int code_of(double cdm2) {
  return grey_code(kPq, colour::Luminance<>{.cdm2 = cdm2}).value().code[0];
}

/// Frames of greys: `share` of the width has the frame's level, the rest the first.
Showing greys(std::vector<double> levels, double every_s, double share = 1, RasterSize size = {640, 360}) {
  return {.encoding = kPq,
          .size = size,
          .frames = static_cast<int>(levels.size()),
          .row =
              [=](int frame, int) {
                std::vector<std::uint16_t> row;
                for (int x = 0; x < size.width; ++x) {
                  const bool inside = x < share * size.width;
                  row.insert(row.end(), 3, static_cast<std::uint16_t>(code_of(levels[inside ? unsigned(frame) : 0])));
                }
                return row;
              },
          .every = {every_s}};
}

FlashSecond flashing(const Showing& showing) {
  return cautions_of(showing).value().flashing;
}

// Expected values in the next tests are counted by hand from the rule.

TEST(Showing, FourFlashesInASecondAreAbove) {
  const auto fast = flashing(greys({0.01, 100}, 0.125));
  EXPECT_TRUE(fast.above);
  EXPECT_EQ(fast.flashes, 4);
  EXPECT_NEAR(fast.area, 1, 1e-9);
  EXPECT_NEAR(fast.change_cdm2, 100, 1);
}

TEST(Showing, ThreeFlashesInASecondAreWithin) {
  const auto slow = flashing(greys({0.01, 100}, 1.0 / 6));
  EXPECT_FALSE(slow.above);
  EXPECT_EQ(slow.flashes, 3);
}

TEST(Showing, NothingHeldForTheCalmTimeIsAbove) {
  for (const double area : {0.2, 0.5, 1.0})
    for (const double top : {21.0, 100.0, 1000.0, 10000.0})
      EXPECT_FALSE(flashing(greys({0, top}, kCalmHold_s, area)).above);
}

TEST(Showing, AQuarterOfThePictureIsTheLimit) {
  EXPECT_FALSE(flashing(greys({0.01, 100}, 0.1, 0.24)).above);
  EXPECT_TRUE(flashing(greys({0.01, 100}, 0.1, 0.27)).above);
}

TEST(Showing, SmallChangesAreNoFlashes) {
  EXPECT_EQ(flashing(greys({50, 69}, 0.05)).flashes, 0);
  EXPECT_TRUE(flashing(greys({50, 71.5}, 0.05)).above);
  // From 160 cd/m2 up the contrast decides: 1/17 is a ratio of 1.125.
  EXPECT_EQ(flashing(greys({200, 223}, 0.05)).flashes, 0);
  EXPECT_TRUE(flashing(greys({200, 227}, 0.05)).above);
}

TEST(Showing, FinePatternsThatSwapAreSeenAndCountedOnce) {
  const auto swapped = [](double every_s) {
    Showing s = greys({0, 0}, every_s);
    s.row = [](int frame, int y) {
      std::vector<std::uint16_t> row;
      for (int x = 0; x < 640; ++x) row.insert(row.end(), 3, (x + y + frame) % 2 == 0 ? 0 : 1023);
      return row;
    };
    return flashing(s);
  };
  EXPECT_TRUE(swapped(0.1).above);
  EXPECT_EQ(swapped(0.1).flashes, 5);  // each pixel has a period of 0.2 s
  EXPECT_FALSE(swapped(0.2).above);
}

TEST(Showing, PlacesCoverThePictureEvenly) {
  // A window's share of area comes out right to 1 %, wherever its edges lie.
  for (double share = 0.05; share < 0.25; share += 0.013) {
    const auto cautions = cautions_of(greys({1000, 0.1}, 0, share)).value();
    EXPECT_NEAR(cautions.stay.area, 1, 1e-12) << share;  // the first frame is 1000 cd/m2 all over
    Showing window = greys({0.1, 1000}, 0, share);
    EXPECT_NEAR(cautions_of(window).value().stay.area, share, 0.01) << share;
  }
}

TEST(Showing, AStillThatIsDarkAsksForNothing) {
  const auto cautions = cautions_of(greys({100}, 0)).value();
  EXPECT_FALSE(cautions.needs_confirmation());
  EXPECT_THAT(cautions.texts(), testing::IsEmpty());
}

TEST(Showing, AStillThatIsBrightSaysForHowLong) {
  const auto cautions = cautions_of(greys({1000}, 0)).value();
  EXPECT_FALSE(cautions.needs_confirmation());
  ASSERT_EQ(cautions.texts().size(), 1U);
  EXPECT_THAT(cautions.texts()[0], testing::AllOf(testing::HasSubstr("998.9 cd/m2 until it is changed over 100 %"),
                                                  testing::HasSubstr("30 s")));
}

TEST(Showing, FramesThatChangeInTimeAreNoStay) {
  EXPECT_TRUE(cautions_of(greys({1000, 0}, 20)).value().texts().size() == 1);  // flashes told, within the limits
  EXPECT_FALSE(cautions_of(greys({1000, 0}, 20)).value().stay.caution());
  EXPECT_TRUE(cautions_of(greys({1000, 0}, 40)).value().stay.caution());
  // The same place bright in several frames stays, though the rest changes.
  EXPECT_TRUE(cautions_of(greys({1000, 0, 0, 0}, 20, 0.5)).value().stay.caution());
}

TEST(AllowedStay, FallsWithLevelAndArea) {
  EXPECT_TRUE(std::isinf(allowed_stay(199, 1).s));
  EXPECT_DOUBLE_EQ(allowed_stay(200, 0.01).s, 300);
  EXPECT_DOUBLE_EQ(allowed_stay(1000, 0.01).s, 60);
  EXPECT_DOUBLE_EQ(allowed_stay(1000, 0.5).s, 30);
  EXPECT_DOUBLE_EQ(allowed_stay(1e6, 1).s, 5);
}

TEST(Showing, RefusalSaysTheFiguresAndTheOption) {
  const auto cautions = cautions_of(greys({0.01, 100}, 0.1)).value();
  EXPECT_THAT(
      flashing_refused(cautions, "--yes").text(),
      testing::AllOf(testing::HasSubstr("5 times"), testing::HasSubstr("--yes"), testing::HasSubstr("BT.1702")));
  EXPECT_THAT(cautions.texts()[0], testing::HasSubstr("ABOVE"));
}

TEST(Showing, WhatCannotBeIsRefused) {
  Showing s = greys({1}, 0);
  s.every = {-1};
  EXPECT_EQ(cautions_of(s).error().where.field, "every");
  s.every = {NAN};
  EXPECT_EQ(cautions_of(s).error().where.field, "every");
  s.every = {0};
  s.frames = 0;
  EXPECT_EQ(cautions_of(s).error().where.field, "frames");
}

TEST(Showing, EveryTestPictureHeldForTwoSecondsIsWithin) {
  for (const auto& info : test_pictures()) {
    const auto picture = TestPicture::make({.key = info.key, .encoding = kPq, .size = {640, 360}});
    if (!picture || picture->frames() > 12) continue;
    EXPECT_FALSE(cautions_of(showing_of(*picture, {2})).value().needs_confirmation()) << info.key;
  }
}

}  // namespace
}  // namespace provenit::signal
