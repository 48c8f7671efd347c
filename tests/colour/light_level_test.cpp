#include "provenit/colour/light_level.h"

#include <gtest/gtest.h>

#include <array>

namespace provenit::colour {
namespace {

using Frame = std::vector<AbsoluteRgb<>>;

TEST(LightLevel, TheTwoMaximaMayComeFromDifferentFrames) {
  const std::array frames{Frame{{1000, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}}, Frame{{0, 400, 5}, {3, 2, 400}}};
  const auto level = content_light_level(frames);
  EXPECT_EQ(level.maxcll_cdm2, 1000);
  EXPECT_EQ(level.maxfall_cdm2, 400) << "max(R, G, B) of each pixel, not luminance";
}

TEST(LightLevel, FieldsAreWholeAndBounded) {
  const ContentLightLevel level{.maxcll_cdm2 = 100.5, .maxfall_cdm2 = 100.499};
  EXPECT_EQ(level.maxcll_field(), 101);
  EXPECT_EQ(level.maxfall_field(), 100);
  EXPECT_EQ((ContentLightLevel{.maxcll_cdm2 = 1e6}.maxcll_field()), 65535);
}

TEST(LightLevel, NothingGivesNothing) {
  EXPECT_EQ(content_light_level({}).maxcll_cdm2, 0);
  const std::array frames{Frame{}, Frame{{-1, -2, -3}}};
  EXPECT_EQ(content_light_level(frames).maxfall_cdm2, 0) << "negative light counts as none";
}

}  // namespace
}  // namespace provenit::colour
