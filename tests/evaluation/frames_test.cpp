// Figures of scaled edges and waves, ramps and clip steps from captured frames, against chains of known kernels and
// codes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "simulated_frames.h"

namespace provenit::evaluation {
namespace {

using testing::HasSubstr;

signal::TestPicture picture(const char* key, signal::RasterSize size, signal::Encoding encoding = {}) {
  return signal::TestPicture::make({.key = key, .encoding = encoding, .size = size}).value();
}

TEST(EdgeResponse, OneToOneIsSharp) {
  const auto shown = picture("scaling_set", {640, 360});
  const auto found = measure_edges(bench::as_captured(simulated::frame_of(shown)), shown).value();
  ASSERT_EQ(found.size(), 2u);
  for (const auto& e : found) {
    EXPECT_NEAR(e.rise_frame_px.value, 0.8, 1e-6);
    EXPECT_NEAR(e.half_percent.value, 100, 1e-6);
    EXPECT_NEAR(e.full_percent.value, 100, 1e-6);
    EXPECT_FALSE(e.mtf50);
  }
}

TEST(EdgeResponse, IsThatOfTheKernel) {
  const auto shown = picture("scaling_set", {640, 360});
  bench::Enlargements enlarged(shown);
  int held = 0, of = 0;
  for (std::uint64_t seed = 5001; seed < 5009; ++seed) {
    const auto capture = bench::simulated_scaling(enlarged, seed);
    const auto found = measure_edges(capture.frame, shown);
    ASSERT_TRUE(found) << found.error().text();
    for (const auto& e : *found) {
      held += e.rise_source_px.interval.contains(capture.response.rise());
      held += e.half_percent.interval.contains(100 * capture.response.at(0.25));
      held += e.full_percent.interval.contains(100 * capture.response.at(0.5));
      of += 3;
    }
  }
  EXPECT_GE(held, 41) << of;  // of 48; at 95 % fewer once in a thousand
}

TEST(EdgeResponse, AnotherPictureIsRefused) {
  const auto shown = picture("scaling_set", {640, 360}), other = picture("zone_plate", {640, 360});
  const auto frame = bench::as_captured(simulated::frame_of(other));
  EXPECT_THAT(measure_edges(frame, other).error().text(), HasSubstr("not of zone_plate"));
  EXPECT_THAT(measure_edges(frame, shown).error().text(), HasSubstr("not where the picture has it"));
  EXPECT_THAT(measure_edges(frame, picture("scaling_set", {1280, 720})).error().text(), HasSubstr("too small"));
}

TEST(Alias, OneToOneHasNone) {
  const auto shown = picture("zone_plate", {640, 360});
  const auto found = measure_alias(bench::as_captured(simulated::frame_of(shown)), shown).value();
  ASSERT_EQ(found.size(), 4u);
  for (const auto& a : found) {
    EXPECT_LT(a.percent.value, 0.001);
    EXPECT_EQ(a.percent.interval.lower, 0);
  }
}

TEST(Alias, IsThatOfTheKernel) {
  const auto shown = picture("zone_plate", {640, 360});
  bench::Enlargements enlarged(shown);
  int held = 0;
  for (std::uint64_t seed = 5001; seed < 5006; ++seed) {
    const auto capture = bench::simulated_scaling(enlarged, seed);
    const auto found = measure_alias(capture.frame, shown);
    ASSERT_TRUE(found) << found.error().text();
    for (const auto& a : *found) held += a.percent.interval.contains(capture.response.alias(a.from, a.to));
  }
  EXPECT_GE(held, 17);  // of 20
}

TEST(Alias, IsThatOfTheKernelWhereAPixelIsNoWholeNumberOfPixels) {
  const auto shown = picture("zone_plate", {640, 360});
  int held = 0;
  for (const int fifths : {7, 8})
    for (int k = 0; k < 4; ++k) {
      const auto kernel = static_cast<simulated::Kernel>(k);
      const auto frame = simulated::enlarged(simulated::frame_of(shown), 128 * fifths, 72 * fifths, kernel);
      const auto found = measure_alias(bench::as_captured(simulated::captured(frame, 1, 1023, 5001)), shown);
      ASSERT_TRUE(found) << found.error().text();
      const bench::KernelResponse response(kernel, fifths, 0, 5);
      for (const auto& a : *found) held += a.percent.interval.contains(response.alias(a.from, a.to));
    }
  EXPECT_GE(held, 29);  // of 32
}

TEST(Alias, ATurnedOrOtherPictureIsRefused) {
  const auto shown = picture("zone_plate", {640, 360});
  const auto other = bench::as_captured(simulated::frame_of(picture("scaling_set", {640, 360})));
  EXPECT_THAT(measure_alias(other, shown).error().text(), HasSubstr("not where the picture has them"));
  const auto coarse = signal::TestPicture::make(
      {.key = "zone_plate", .parameters = {{"highest_frequency_percent", 50}}, .encoding = {}, .size = {640, 360}});
  EXPECT_THAT(measure_alias(other, *coarse).error().text(), HasSubstr("highest_frequency_percent"));
}

TEST(Ramp, BitsAreCounted) {
  for (const int bits : {8, 9, 10}) {
    const auto shown = picture("luminance_ramp", {1920, 180});
    const auto frame = simulated::requantised(simulated::frame_of(shown), shown.request().encoding, bits);
    const auto found = measure_ramp(bench::as_captured(frame), shown).value();
    // 64 to 940: 877 codes of 10 bits, 439 of 9, 220 of 8.
    EXPECT_EQ(found.sent, 877);
    EXPECT_EQ(found.kept.value, bits == 10 ? 877 : bits == 9 ? 439 : 220);
    EXPECT_NEAR(found.bits.value, bits, 1e-9);
    EXPECT_NEAR(found.largest_step.value, 1 << (10 - bits), 1e-9);
    EXPECT_NEAR(found.largest_step.interval.upper, 1 << (10 - bits), 1e-9);
    EXPECT_FALSE(found.capture_too_coarse);
  }
}

TEST(Ramp, AFileOfFewerCodesGivesABound) {
  const auto shown = picture("luminance_ramp", {1920, 180});
  auto frame = bench::as_captured(simulated::frame_of(shown));
  for (float& v : frame.rgb) v = std::round(v / 4);
  const auto found = measure_ramp(frame, shown).value();
  EXPECT_TRUE(found.capture_too_coarse);
  EXPECT_EQ(found.kept.value, 220);
  EXPECT_EQ(found.kept.interval.upper, 877);
  EXPECT_NEAR(found.bits.interval.upper, 10, 1e-9);
}

TEST(Ramp, AClipTakesNoBits) {
  const auto shown = picture("luminance_ramp", {1920, 180});
  auto frame = bench::as_captured(simulated::frame_of(shown));
  for (float& v : frame.rgb) v = std::min(v, 740.0F);
  const auto found = measure_ramp(frame, shown).value();
  EXPECT_EQ(found.clipped, 200);
  EXPECT_EQ(found.kept.value, 677);
  EXPECT_NEAR(found.bits.value, 10, 1e-9);
  EXPECT_NEAR(found.largest_step.value, 1, 1e-9);
  EXPECT_FALSE(found.capture_too_coarse);
}

TEST(Ramp, ATurnedFrameIsRefused) {
  const auto shown = picture("luminance_ramp", {960, 180});
  auto frame = bench::as_captured(simulated::frame_of(shown));
  std::ranges::reverse(frame.rgb);
  EXPECT_THAT(measure_ramp(frame, shown).error().text(), HasSubstr("does not rise"));
}

TEST(Clip, HardAndRolledHueKeptAndNot) {
  const auto shown = picture("clip_steps", {960, 540});
  for (const bool rolled : {false, true})
    for (const bool keeps : {false, true}) {
      const simulated::Clip clip{.peak_cdm2 = 1100, .roll_off_start = rolled ? 0.6 : 1, .keeps_hue = keeps};
      const auto frame = simulated::requantised(
          simulated::clipped(simulated::frame_of(shown), shown.request().encoding, clip), shown.request().encoding, 10);
      const auto found = measure_clip(bench::as_captured(frame), shown).value();
      ASSERT_TRUE(found.clip_cdm2 && found.start_cdm2 && found.softness_percent);
      EXPECT_TRUE(found.clip_cdm2->interval.contains(1100)) << found.clip_cdm2->value;
      EXPECT_EQ(found.kind, rolled ? "rolled" : "hard") << found.softness_percent->value;
      ASSERT_EQ(found.hues.size(), 3u);
      EXPECT_EQ(found.hues[0].colour, "orange");
      for (const auto& h : found.hues)
        if (keeps)
          EXPECT_EQ(h.shift_degrees.interval.lower, 0) << h.colour << ' ' << h.shift_degrees.value;
        else
          EXPECT_GT(h.shift_degrees.interval.lower, 2) << h.colour << ' ' << h.shift_degrees.value;
    }
}

// A whole code says that what was rounded lies within half a code of it, no more and no less: 10 bits of PQ are 1 % of
// light.
TEST(Clip, SoftnessIsKnownToHalfACode) {
  const auto shown = picture("clip_steps", {960, 540});
  int held = 0;
  constexpr std::uint64_t kTrials = 30;
  for (std::uint64_t seed = 1; seed <= kTrials; ++seed) {
    const auto capture = bench::simulated_clip(shown, seed);
    const auto found = measure_clip(capture.frame, shown).value();
    ASSERT_TRUE(found.softness_percent);
    const auto& interval = found.softness_percent->interval;
    held += interval.contains(capture.softness_percent);
    if (found.kind == "hard") {
      EXPECT_EQ(interval.lower, 0);
      EXPECT_LT(interval.upper, 0.6) << seed;
    } else {
      EXPECT_LT(interval.upper - interval.lower, 2.0) << seed;
    }
  }
  EXPECT_GE(held, 25);
}

TEST(Clip, WithoutOneThereIsNone) {
  const auto shown = picture("clip_steps", {960, 540});
  const auto found = measure_clip(bench::as_captured(simulated::frame_of(shown)), shown).value();
  EXPECT_FALSE(found.clip_cdm2 || found.start_cdm2 || found.softness_percent);
  for (const auto& h : found.hues) EXPECT_EQ(h.shift_degrees.interval.lower, 0);
  const auto other = bench::as_captured(simulated::frame_of(picture("luminance_ramp", {960, 540})));
  EXPECT_THAT(measure_clip(other, shown).error().text(), HasSubstr("do not rise"));
}

}  // namespace
}  // namespace provenit::evaluation
