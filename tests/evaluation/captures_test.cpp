// Figures from captured frames, against chains of known filters and kernels.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "simulated_captures.h"

namespace provenit::evaluation {
namespace {

using testing::HasSubstr;

signal::TestPicture picture(const char* key, signal::RasterSize size) {
  return signal::TestPicture::make({.key = key, .encoding = {}, .size = size}).value();
}

constexpr int kTrials = 40, kFewest = 34;  // fewer than 34 of 40 hold the truth once in 400 cases

TEST(Chroma, IsToldApartWithItsFigures) {
  const auto shown = picture("chroma_lines", {960, 540});
  int upright = 0, lying = 0, wide = 0;
  for (std::uint64_t seed = 5001; seed < 5001 + kTrials; ++seed) {
    const auto capture = bench::simulated_chroma(shown, seed);
    const auto found = measure_chroma(capture.frame, shown);
    ASSERT_TRUE(found) << found.error().text();
    EXPECT_EQ(found->kept, capture.kept);
    ASSERT_EQ(found->details.size(), 6u);
    upright += found->details[0].percent.interval.contains(capture.across_1px);
    wide += found->details[2].percent.interval.contains(capture.across_4px);
    lying += found->details[3].percent.interval.contains(capture.down_1px);
  }
  EXPECT_GE(upright, kFewest);
  EXPECT_GE(wide, kFewest);
  EXPECT_GE(lying, kFewest);
}

TEST(Chroma, TheWholePictureKeepsAll) {
  const auto shown = picture("chroma_lines", {960, 540});
  const auto found = measure_chroma(bench::as_captured(simulated::frame_of(shown)), shown).value();
  EXPECT_EQ(found.kept, "4:4:4");
  for (const auto& d : found.details) EXPECT_NEAR(d.percent.value, 100, 1e-3);
}

TEST(Chroma, AnotherPictureIsRefused) {
  const auto shown = picture("chroma_lines", {960, 540}), other = picture("scaling_set", {960, 540});
  const auto frame = bench::as_captured(simulated::frame_of(other));
  EXPECT_THAT(measure_chroma(frame, shown).error().text(), HasSubstr("do not differ"));
  EXPECT_THAT(measure_chroma(frame, other).error().text(), HasSubstr("not of scaling_set"));
  EXPECT_THAT(measure_chroma(frame, picture("chroma_lines", {1280, 720})).error().text(), HasSubstr("960 x 540"));
  auto swapped = bench::as_captured(simulated::frame_of(shown));
  for (std::size_t i = 0; i < swapped.rgb.size(); i += 3) std::swap(swapped.rgb[i], swapped.rgb[i + 2]);
  EXPECT_THAT(measure_chroma(swapped, shown).error().text(), HasSubstr("order"));
}

TEST(Overshoot, IsThatOfTheKernel) {
  const auto shown = picture("scaling_set", {640, 360});
  int across = 0, down = 0;
  for (std::uint64_t seed = 5001; seed < 5001 + kTrials / 2; ++seed) {
    const auto capture = bench::simulated_edges(shown, seed);
    const auto found = measure_overshoot(capture.frame, shown);
    ASSERT_TRUE(found) << found.error().text();
    across += found->at(0).percent.interval.contains(capture.percent);
    down += found->at(1).percent.interval.contains(capture.percent);
  }
  EXPECT_GE(across, 16);  // of 20
  EXPECT_GE(down, 16);
}

TEST(Overshoot, BilinearHasNoneAndAShiftedFrameIsRefused) {
  const auto shown = picture("scaling_set", {640, 360});
  const auto frame = simulated::enlarged(simulated::frame_of(shown), 1280, 720, simulated::Kernel::bilinear);
  const auto found = measure_overshoot(bench::as_captured(frame), shown).value();
  ASSERT_EQ(found.size(), 2u);
  for (const auto& edge : found) {
    EXPECT_LT(edge.percent.value, 0.01);
    EXPECT_EQ(edge.percent.interval.lower, 0);
  }
  const auto other = bench::as_captured(simulated::frame_of(picture("chroma_lines", {640, 360})));
  EXPECT_THAT(measure_overshoot(other, shown).error().text(), HasSubstr("not where the picture has it"));
}

}  // namespace
}  // namespace provenit::evaluation
