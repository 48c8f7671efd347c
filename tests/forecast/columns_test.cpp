#include "provenit/forecast/columns.h"

#include <gtest/gtest.h>

#include "provenit/forecast/drawing.h"

namespace provenit::forecast {
namespace {

FrameOutlook outlook(std::int64_t index, double delta_e, float clip, float halo) {
  FrameOutlook out{.index = index, .time_s = static_cast<double>(index) / 24, .delta_e = {delta_e, delta_e, delta_e}};
  out.by_cause[static_cast<std::size_t>(Cause::clip)] = clip;
  out.by_cause[static_cast<std::size_t>(Cause::halo)] = halo;
  return out;
}

const std::vector<FrameOutlook> kOutlooks{outlook(0, 0.5, 0.25F, 0), outlook(1, 2, 1.5F, 0), outlook(2, 4, 1, 2.5F),
                                          outlook(3, 1, 0, 0), outlook(4, 0, 0, 0)};

TEST(Columns, HoldTheLargestOfTheirFrames) {
  const auto all = columns_of(kOutlooks, 0, 5, 2);
  EXPECT_EQ(all.frames_per_column, 3u);
  ASSERT_EQ(all.delta_e.size(), 2u);
  EXPECT_EQ(all.delta_e[0], 4);
  EXPECT_EQ(all.delta_e[1], 1);
  EXPECT_EQ(all.by_cause[0][0], 1.5);
  EXPECT_EQ(all.by_cause[3][0], 2.5);
  EXPECT_EQ(all.time_s[1], 3.0 / 24);
  EXPECT_EQ(all.tone[0], 0.5);
  EXPECT_EQ(all.tone[1], 1);
}

TEST(Columns, KeepInsideTheFrames) {
  const auto part = columns_of(kOutlooks, 3, 99, 600);
  EXPECT_EQ(part.first, 3u);
  EXPECT_EQ(part.last, 5u);
  EXPECT_EQ(part.delta_e.size(), 2u);
  EXPECT_TRUE(columns_of(kOutlooks, 7, 9, 600).time_s.empty());
  EXPECT_TRUE(columns_of({}, 0, 9, 600).time_s.empty());
}

TEST(TitleSummary, CountsFramesAndTheCauseThatLeads) {
  const auto s = summary_of(kOutlooks);
  EXPECT_DOUBLE_EQ(s.mean_delta_e, 1.5);
  EXPECT_DOUBLE_EQ(s.share_above[0], 0.4);
  EXPECT_DOUBLE_EQ(s.share_above[1], 0.2);
  EXPECT_EQ(s.frames_led[static_cast<std::size_t>(Cause::clip)], 1u);
  EXPECT_EQ(s.frames_led[static_cast<std::size_t>(Cause::halo)], 1u);
  EXPECT_EQ(s.frames_led_by_tone, 0u);
  EXPECT_DOUBLE_EQ(s.mean_tone, (0.25 + 0.5 + 0.5 + 1) / 5);
  EXPECT_STREQ(leading_part(kOutlooks[2]), "halo");
  EXPECT_STREQ(leading_part(kOutlooks[3]), "tone");
  EXPECT_EQ(summary_of({}).mean_delta_e, 0);
}

TEST(Drawing, PaintsTheStepsOfTheDifference) {
  // A mean of exactly a step belongs to the step above it.
  const ShownLight light{.width = 4, .height = 2, .x = {}, .y = {}, .z = {}, .delta_e = {0, 0, 2, 2, 0, 2, 40, 40}};
  const auto full = difference_drawing(light, 4, 4);
  EXPECT_EQ(full.width, 4);
  EXPECT_EQ(full.samples[0], std::lround(65535 * kDifferenceGreys[0]));
  EXPECT_EQ(full.samples[3 * 2], std::lround(65535 * kDifferenceGreys[1]));
  EXPECT_EQ(full.samples[3 * 6], std::lround(65535 * kDifferenceGreys[4]));
  const auto half = difference_drawing(light, 2, 2);  // means 0.5 and 21
  ASSERT_EQ(half.samples.size(), 6u);
  EXPECT_EQ(half.samples[0], std::lround(65535 * kDifferenceGreys[0]));
  EXPECT_EQ(half.samples[3], std::lround(65535 * kDifferenceGreys[3]));
}

TEST(Drawing, ShownLightStandsInThePicturesOwnPrimaries) {
  programme::LightImage intended{.format = {}, .width = 1, .height = 1, .signal = {{1, 1, 1}}, .light = {{5, 6, 7}}};
  intended.to_xyz = colour::Matrix3<>{.row = {{{0.5, 0.25, 0.125}, {0.25, 0.5, 0.125}, {0.125, 0.25, 0.5}}}};
  // XYZ of R, G, B = 8, 16, 32.
  const ShownLight light{.width = 1, .height = 1, .x = {12}, .y = {14}, .z = {21}, .delta_e = {0}};
  const auto shown = shown_image(intended, light);
  EXPECT_NEAR(shown.light[0][0], 8, 1e-5);
  EXPECT_NEAR(shown.light[0][1], 16, 1e-5);
  EXPECT_NEAR(shown.light[0][2], 32, 1e-5);
}

}  // namespace
}  // namespace provenit::forecast
