#include "provenit/programme/title.h"

#include <gtest/gtest.h>

#include "provenit/colour/light_level.h"

namespace provenit::programme {
namespace {

constexpr int kWidth = 1920, kHeight = 1080;
constexpr ActiveArea kWhole{.left = 0, .top = 0, .width = kWidth, .height = kHeight};
constexpr ActiveArea kLetterbox{.left = 0, .top = 138, .width = 1920, .height = 804};

FrameLight frame(std::int64_t index, double max, double mean, double mean_active, ActiveArea active) {
  return {.index = index,
          .time_s = static_cast<double>(index) / 24,
          .max_rgb_max = max,
          .max_rgb_robust = max,
          .max_rgb_mean = mean,
          .max_rgb_mean_active = mean_active,
          .luminance_mean = mean,
          .luminance_99_9 = max,
          .active = active};
}

TEST(TitleFigures, AreZeroForNoFrame) {
  EXPECT_EQ(title_figures({}, kWidth, kHeight), TitleFigures{});
}

TEST(TitleFigures, NameTheFirstFrameOfTheLargest) {
  const std::vector frames{frame(0, 500, 20, 20, kWhole), frame(1, 900, 50, 50, kWhole), frame(2, 900, 40, 40, kWhole)};
  const auto t = title_figures(frames, kWidth, kHeight);
  EXPECT_EQ(t.maxcll.cdm2, 900);
  EXPECT_EQ(t.maxcll.index, 1);
  EXPECT_EQ(t.maxcll.time_s, 1.0 / 24);
  EXPECT_EQ(t.maxfall_full.cdm2, 50);
  EXPECT_DOUBLE_EQ(t.mean_of_means, 110.0 / 3);
  EXPECT_EQ(t.peak_percentile, (std::array<double, 7>{500, 500, 900, 900, 900, 900, 900}));  // nearest rank of 3
}

// H.265 D.3.35 note 3: the mean is taken inside the picture, not over its bars.
TEST(TitleFigures, MaxFallLeavesTheBarsOut) {
  const double share = 804.0 / 1080;
  std::vector<FrameLight> frames;
  for (int i = 0; i < 240; ++i) frames.push_back(frame(i, 800, 100 * share, 100, kLetterbox));
  const auto t = title_figures(frames, kWidth, kHeight);
  EXPECT_DOUBLE_EQ(t.maxfall_active.cdm2, 100);
  EXPECT_DOUBLE_EQ(t.maxfall_full.cdm2, 100 * share);
}

// A frame whose own area is smaller than the steady one: the light between the two is the bars' mean light.
TEST(TitleFigures, ADarkEdgeInsideThePictureIsNoBar) {
  std::vector<FrameLight> frames;
  for (int i = 0; i < 240; ++i) frames.push_back(frame(i, 800, 10, 10, kWhole));
  const ActiveArea narrow{.left = 480, .top = 0, .width = 960, .height = 1080};
  frames[100] = frame(100, 800, 50, 90, narrow);  // inside 90 on half of the frame, the other half at 10
  const auto t = title_figures(frames, kWidth, kHeight);
  EXPECT_DOUBLE_EQ(t.maxfall_active.cdm2, 50);
  EXPECT_EQ(t.maxfall_active.index, 100);
}

TEST(SteadyAreas, FollowALetterboxFromTheStart) {
  std::vector<FrameLight> frames;
  for (int i = 0; i < 300; ++i) frames.push_back(frame(i, 100, 10, 10, kLetterbox));
  for (const auto& area : steady_areas(frames, kWidth, kHeight)) EXPECT_EQ(area, kLetterbox);
}

TEST(SteadyAreas, GrowAtOnceAndShrinkOnlyWhereThePictureStaysSmall) {
  std::vector<FrameLight> frames;
  for (int i = 0; i < 900; ++i) frames.push_back(frame(i, 100, 10, 10, i >= 300 && i < 600 ? kWhole : kLetterbox));
  frames[700].active = {};  // a black frame says nothing
  const auto areas = steady_areas(frames, kWidth, kHeight);
  EXPECT_EQ(areas[0], kLetterbox);
  EXPECT_EQ(areas[179], kLetterbox);  // 5 s and a frame before the change
  EXPECT_EQ(areas[300], kWhole);
  EXPECT_EQ(areas[599], kWhole);
  EXPECT_EQ(areas[600], kLetterbox);  // nothing wider in the coming 5 s
  EXPECT_EQ(areas[700], kLetterbox);
}

TEST(SteadyAreas, ATitleOnBlackIsNoLetterbox) {
  std::vector<FrameLight> frames;
  const ActiveArea lettering{.left = 800, .top = 500, .width = 320, .height = 80};
  for (int i = 0; i < 400; ++i) frames.push_back(frame(i, 100, 10, 400, i < 200 ? kLetterbox : lettering));
  const auto areas = steady_areas(frames, kWidth, kHeight);
  EXPECT_EQ(areas[399], kLetterbox);
}

TEST(SteadyAreas, ABriefReachIntoTheBarsCountsForItsFramesOnly) {
  std::vector<FrameLight> frames;
  for (int i = 0; i < 600; ++i) frames.push_back(frame(i, 100, 10, 10, kLetterbox));
  const ActiveArea with_subtitle{.left = 0, .top = 138, .width = 1920, .height = 900};
  for (std::size_t i = 300; i < 348; ++i) frames[i].active = with_subtitle;
  const auto areas = steady_areas(frames, kWidth, kHeight);
  EXPECT_EQ(areas[100], kLetterbox);
  EXPECT_EQ(areas[320], with_subtitle);
  EXPECT_EQ(areas[348], kLetterbox);
}

TEST(TemporalDifference, IsTheMeanStepOfTheBlocks) {
  FrameRecord a, b;
  a.block_columns = b.block_columns = 2;
  a.block_rows = b.block_rows = 1;
  a.blocks[0] = 1000, b.blocks[0] = 3000;
  a.blocks[1] = 500, b.blocks[1] = 0;
  EXPECT_DOUBLE_EQ(temporal_difference(a, b), 2500.0 / 2 / 65535);
  b.block_rows = 2;
  EXPECT_EQ(temporal_difference(a, b), 0);
}

TEST(DeclaredWhole, RoundsHalfUpAndFits16Bits) {
  EXPECT_EQ(declared_whole_cdm2(999.5), 1000);
  EXPECT_EQ(declared_whole_cdm2(999.4999), 999);
  EXPECT_EQ(declared_whole_cdm2(1e9), 65535);
  // The same rule as the definition in the colour library.
  for (const double v : {0.0, 0.5, 12.49, 703.2})
    EXPECT_EQ(declared_whole_cdm2(v), (colour::ContentLightLevel{.maxcll_cdm2 = v}.maxcll_field()));
}

}  // namespace
}  // namespace provenit::programme
