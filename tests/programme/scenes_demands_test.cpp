// What scenes ask of a display, the ranked moments, and the caution on flashing, on frames made by hand.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "scenes_title.h"

namespace provenit::programme {
namespace {

using namespace invented;
using testing::ElementsAre;

double pq(double cdm2) {
  return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
}

// Flashing ------------------------------------------------------------------------------------------------------------

/// Square wave between two luminances over the first `blocks` blocks of the picture, the rest at 10 cd/m2.
std::vector<FrameRecord> flashing(double hz, double low, double high, std::size_t blocks, double seconds,
                                  double rate = 60) {
  std::vector<FrameRecord> frames;
  for (int f = 0; f < seconds * rate; ++f) {
    Map m = field(pq(10));
    const bool up = std::fmod(f * hz / rate + 1e-9, 1.0) < 0.5;
    for (std::size_t i = 0; i < blocks; ++i) m[i] = pq(up ? high : low);
    frames.push_back(record(m, f, rate));
  }
  return frames;
}
std::size_t cautions(const std::vector<FrameRecord>& frames) {
  return flash_cautions(frames, kWidth, kHeight).size();
}

TEST(FlashCaution, MoreThanThreeASecondOverMoreThanAQuarter) {
  EXPECT_EQ(cautions(flashing(5, 20, 200, 135, 3)), 1U);
  EXPECT_EQ(cautions(flashing(3, 20, 200, 135, 3)), 0U) << "three a second";
  EXPECT_EQ(cautions(flashing(5, 20, 200, 30, 3)), 0U) << "less than a quarter of the picture";
  EXPECT_EQ(cautions(flashing(5, 20, 200, 45, 3)), 1U) << "three rows of nine";
}

TEST(FlashCaution, TwentyCandelasBelowOneHundredAndSixty) {
  EXPECT_EQ(cautions(flashing(5, 50, 69, 135, 3)), 0U);
  EXPECT_EQ(cautions(flashing(5, 50, 71, 135, 3)), 1U);
  // From 160 cd/m2 up: Michelson 1/17, that is a ratio of 1.125.
  EXPECT_EQ(cautions(flashing(5, 400, 440, 135, 3)), 0U);
  EXPECT_EQ(cautions(flashing(5, 400, 460, 135, 3)), 1U);
  EXPECT_EQ(cautions(flashing(5, 155, 176, 135, 3)), 1U);
}

TEST(FlashCaution, TellsWhenHowOftenAndHowLarge) {
  auto frames = flashing(1, 20, 20.5, 135, 2);
  for (auto f : flashing(6, 20, 220, 90, 2)) {
    f.figures.index += 120, f.figures.time_s += 2;
    frames.push_back(f);
  }
  const auto found = flash_cautions(frames, kWidth, kHeight);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(static_cast<double>(found[0].first), 120, 1);
  EXPECT_GE(found[0].last, 225U);
  EXPECT_NEAR(found[0].flashes, 6, 1);
  // Six of nine rows, of which the last is lower than the others (2160 = 8 x 256 + 112).
  EXPECT_NEAR(found[0].area, 6 * 256 / 2160.0, 1e-9);
  EXPECT_NEAR(found[0].change_cdm2, 200, 0.5);
}

TEST(FlashCaution, ChangesOverSeveralFramesCount) {
  std::vector<FrameRecord> frames;
  for (int f = 0; f < 180; ++f)
    frames.push_back(record(field(pq(110 + 90 * std::sin(2 * 3.14159265 * 4.5 * f / 60))), f, 60));
  EXPECT_EQ(cautions(frames), 1U);
}

TEST(FlashCaution, FlashesThatTakeTurnsOverThePictureCount) {
  // Every flash lights another third; no block flashes more than three times a second, the picture does.
  std::vector<FrameRecord> frames;
  for (int f = 0; f < 180; ++f) {
    Map m = field(pq(10));
    const int flash = f / 10, third = flash % 3;
    if (f % 10 < 5)
      for (std::size_t i = 0; i < 45; ++i) m[static_cast<std::size_t>(third) * 45 + i] = pq(300);
    frames.push_back(record(m, f, 60));
  }
  EXPECT_EQ(cautions(frames), 1U);
}

TEST(FlashCaution, CutsAndASingleFlashAreNone) {
  std::vector<FrameRecord> frames;
  for (int f = 0; f < 240; ++f) {
    const bool flash = f == 100 || f == 101;
    frames.push_back(record(field(pq(f < 60 ? 30 : flash ? 900 : 120)), f, 60));
  }
  EXPECT_EQ(cautions(frames), 0U);
}

// Demands -------------------------------------------------------------------------------------------------------------

TEST(HighlightDetail, ShareAndBitsFromTheHistogram) {
  FrameRecord r;
  r.light[40] = 900;
  r.light[120] = 100;  // above 4000 cd/m2, all in one bin
  auto d = highlight_detail(r, 1000);
  EXPECT_DOUBLE_EQ(d.share, 0.1);
  EXPECT_DOUBLE_EQ(d.bits, 0);
  EXPECT_DOUBLE_EQ(d.detail(), 0);
  r.light[120] = 25, r.light[121] = 25, r.light[118] = 25, r.light[117] = 25;
  d = highlight_detail(r, 1000);
  EXPECT_DOUBLE_EQ(d.share, 0.1);
  EXPECT_DOUBLE_EQ(d.bits, 2);  // four levels alike
  EXPECT_DOUBLE_EQ(highlight_detail(FrameRecord{}, 1000).share, 0);
}

TEST(HighlightDetail, TheBinOfThePeakCountsInPart) {
  FrameRecord r;
  const double edge = 128 * pq(1000);  // 96.2...
  r.light[static_cast<std::size_t>(edge)] = 1000;
  EXPECT_NEAR(highlight_detail(r, 1000).share, 1 - (edge - std::floor(edge)), 1e-12);
}

/// Three scenes of 48 frames, cut sharply; frame 60 has the most full-field light, frame 10 the most beyond P3.
Title three_scenes() {
  std::mt19937 random(2);
  Title t;
  for (int s = 0; s < 3; ++s) {
    const Texture texture = Texture::random(random);
    for (int f = 0; f < 48; ++f) t.add(texture.at(f, random));
  }
  for (std::size_t i = 0; i < t.frames.size(); ++i) {
    auto& f = t.frames[i].figures;
    f.max_rgb_mean = 50 + static_cast<double>(i % 48) / 48;
    f.share_outside_p3 = i == 10 ? 0.2 : 0;
  }
  t.frames[60].figures.max_rgb_mean = 400;
  t.frames[130].figures.max_rgb_mean = 300;
  t.frames[61].figures.max_rgb_mean = 399;
  return t;
}

std::vector<std::size_t> positions(const std::vector<Moment>& moments) {
  std::vector<std::size_t> p;
  for (const auto& m : moments) p.push_back(m.position);
  return p;
}

TEST(Moments, OneOfEachSceneThenSecondsApart) {
  const Title t = three_scenes();
  const auto list = find_scenes(t.frames, kWidth, kHeight);
  ASSERT_EQ(list.scenes.size(), 3U);
  EXPECT_THAT(positions(ranked_moments(t.frames, list, Demand::limiter, 2)), ElementsAre(60, 130));
  EXPECT_THAT(positions(ranked_moments(t.frames, list, Demand::limiter, 3)), ElementsAre(60, 130, 47));
  const auto five = ranked_moments(t.frames, list, Demand::limiter, 5);
  ASSERT_EQ(five.size(), 5U);
  for (const auto& a : five)
    for (const auto& b : five)
      if (a.position != b.position && a.scene == b.scene) {
        EXPECT_GE(std::abs(t.frames[a.position].figures.time_s - t.frames[b.position].figures.time_s), 1);
      }
}

TEST(Moments, NothingIsListedForNothingAndTiesGoToTheEarlier) {
  const Title t = three_scenes();
  const auto list = find_scenes(t.frames, kWidth, kHeight);
  EXPECT_THAT(positions(ranked_moments(t.frames, list, Demand::beyond_p3)), ElementsAre(10));
  EXPECT_TRUE(ranked_moments(t.frames, list, Demand::flashes).empty());
  auto flat = t;
  for (auto& f : flat.frames) f.figures.max_rgb_mean = 100;
  const auto all = find_scenes(flat.frames, kWidth, kHeight);
  EXPECT_THAT(positions(ranked_moments(flat.frames, all, Demand::limiter, 3)), ElementsAre(0, 48, 96));
}

TEST(Demands, NumbersFollowTheirDefinitions) {
  Title t;
  t.add(field(0.3));
  auto& f = t.frames[0].figures;
  f.max_rgb_mean = 120, f.max_rgb_robust = 800, f.luminance_percentile[2] = 0.1;
  f.dark_beside_bright = 0.25, f.near_black_detail = 0.4, f.temporal_difference = 0.02;
  const auto list = find_scenes(t.frames, kWidth, kHeight);
  const auto& d = list.demands.at(0);
  EXPECT_DOUBLE_EQ(d.limiter, 120);
  EXPECT_DOUBLE_EQ(d.zones, 0.25 * std::log2(8000.0));
  EXPECT_DOUBLE_EQ(d.near_black, 0.4);
  EXPECT_DOUBLE_EQ(d.changes, 0.02);
  EXPECT_DOUBLE_EQ(list.scenes.at(0).full_field_largest_cdm2, 120);
  EXPECT_DOUBLE_EQ(list.scenes.at(0).maximum_cdm2, 800);
  for (const auto kind : kDemands) EXPECT_STRNE(name_of(kind), "?");
}

TEST(Demands, FlashingMarksItsSceneAndIsRanked) {
  const auto frames = flashing(6, 20, 220, 135, 2);
  const auto list = find_scenes(frames, kWidth, kHeight);
  ASSERT_EQ(list.cautions.size(), 1U);
  EXPECT_TRUE(list.scenes.at(0).flashing);
  const auto moments = ranked_moments(frames, list, Demand::flashes);
  ASSERT_FALSE(moments.empty());
  EXPECT_GE(moments[0].value, 4);
}

}  // namespace
}  // namespace provenit::programme
