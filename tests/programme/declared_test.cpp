// Declared light levels against measured ones, and the ways in which they go wrong.
#include <gmock/gmock.h>

#include "provenit/programme/title.h"

namespace provenit::programme {
namespace {

using testing::HasSubstr;

// The largest 99.9 % luminance is taken to be the robust maximum.
TitleFigures measured(double maxcll, double robust, double fall, double full, double luminance) {
  TitleFigures t;
  t.high_percentile.fill(robust);
  t.frames = 1;
  t.maxcll.cdm2 = maxcll;
  t.maxcll_robust.cdm2 = robust;
  t.maxfall_active.cdm2 = fall;
  t.maxfall_full.cdm2 = full;
  t.mean_luminance_full.cdm2 = luminance;
  return t;
}

StaticMetadata levels(int maxcll, int maxfall) {
  StaticMetadata m;
  m.maxcll_cdm2 = maxcll;
  m.maxfall_cdm2 = maxfall;
  return m;
}

TEST(CheckDeclared, SaysNothingWithoutMetadata) {
  EXPECT_TRUE(check_declared({}, {}).empty());
}

TEST(CheckDeclared, AgreesWithTheRoundedFigure) {
  const auto checks = check_declared(levels(703, 173), measured(702.6, 690, 173.4, 150, 140));
  ASSERT_EQ(checks.size(), 2u);
  for (const auto& c : checks) EXPECT_TRUE(c.agrees) << c.name << c.explanation;
}

TEST(CheckDeclared, KnowsAMeanOfLuminance) {
  const auto c = check_declared(levels(703, 165), measured(702.6, 690, 173.4, 173.4, 165.5))[1];
  EXPECT_FALSE(c.agrees);
  EXPECT_THAT(c.explanation, HasSubstr("mean luminance"));
}

TEST(CheckDeclared, KnowsAMeanWithBars) {
  const auto c = check_declared(levels(703, 129), measured(702.6, 690, 173.4, 129.1, 110))[1];
  EXPECT_FALSE(c.agrees);
  EXPECT_THAT(c.explanation, HasSubstr("bars included"));
}

TEST(CheckDeclared, KnowsALoneOvershoot) {
  const auto c = check_declared(levels(1000, 0), measured(2940, 1004, 173.4, 129.1, 110))[0];
  EXPECT_FALSE(c.agrees);
  EXPECT_THAT(c.explanation, HasSubstr("lone overshoot"));
  const auto sustained = check_declared(levels(1000, 0), measured(2940, 2500, 173.4, 129.1, 110))[0];
  EXPECT_THAT(sustained.explanation, testing::Not(HasSubstr("lone")));
}

TEST(CheckDeclared, ZeroStandsForUnknown) {
  for (const auto& c : check_declared(levels(0, 0), measured(1000, 1000, 100, 100, 90)))
    EXPECT_THAT(c.explanation, HasSubstr("unknown"));
}

// ST 2086:2018 orders of fields as a real clip has them wrong: tests/programme/media,
// hdr10-video-with-sdr-container.mp4.
TEST(CheckDeclared, KnowsFieldsInTheWrongOrderAndUnit) {
  StaticMetadata m;
  m.mastering = {.primaries_xy = {{{0.15, 0.06}, {0.68, 0.32}, {0.265, 0.69}}},
                 .white_xy = {0.3127, 0.329},
                 .maximum_cdm2 = 0.1,
                 .minimum_cdm2 = 0.005};
  const auto checks = check_declared(m, measured(1000, 1000, 100, 100, 90));
  ASSERT_EQ(checks.size(), 3u);
  EXPECT_FALSE(checks[0].agrees);
  EXPECT_THAT(checks[0].explanation, HasSubstr("hold the blue, red and green of P3-D65"));
  EXPECT_FALSE(checks[1].agrees);
  EXPECT_THAT(checks[1].explanation, HasSubstr("1000 cd/m2"));
  EXPECT_TRUE(checks[2].agrees);
}

TEST(CheckDeclared, TakesAStandardsPrimariesAndAPeakThatIsKept) {
  StaticMetadata m;
  m.mastering = {.primaries_xy = {{{0.68, 0.32}, {0.265, 0.69}, {0.15, 0.06}}},
                 .white_xy = {0.3127, 0.329},
                 .maximum_cdm2 = 1000,
                 .minimum_cdm2 = 0.0001};
  for (const auto& c : check_declared(m, measured(1000, 1000, 100, 100, 90))) EXPECT_TRUE(c.agrees) << c.name;
  EXPECT_FALSE(check_declared(m, measured(2000, 2000, 100, 100, 90))[1].agrees);
}

}  // namespace
}  // namespace provenit::programme
