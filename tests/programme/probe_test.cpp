#include "provenit/programme/probe.h"

#include <gtest/gtest.h>

#include "kernel_picture.h"

namespace provenit::programme {
namespace {

using programme::testing::flat_rgb;

TEST(Probe, OfWhiteAtReferenceLevel) {
  const auto r = probe(flat_rgb(10, colour::Range::narrow, Transfer::pq, {572, 572, 572}), 1, 2).value();
  // 572 is 58 % PQ; BT.2408 has 203 cd/m2 there, the code 202.2.
  EXPECT_NEAR(r.luminance_cdm2, 201.9, 0.5);
  EXPECT_NEAR(r.max_rgb_cdm2, r.luminance_cdm2, 1e-9 * r.luminance_cdm2);
  EXPECT_EQ(r.pixel.code[1], 572);
  ASSERT_TRUE(r.xy && r.uv_prime && r.cct_kelvin && r.duv);
  EXPECT_NEAR(r.xy->x, 0.3127, 1e-9);
  EXPECT_NEAR(r.xy->y, 0.3290, 1e-9);
  EXPECT_NEAR(r.uv_prime->u, 0.19783, 1e-5);
  // D65 of video: 6504 K, Duv +0.0032 (Ohno 2014 gives 6503.4 to 6504 for it, by c2).
  EXPECT_NEAR(*r.cct_kelvin, 6504, 3);
  EXPECT_NEAR(*r.duv, 0.0032, 1e-4);
  EXPECT_TRUE(r.inside_bt709 && r.inside_p3);
}

TEST(Probe, OfBlueHasNoCctAndLiesOutside) {
  const auto r = probe(flat_rgb(10, colour::Range::narrow, Transfer::pq, {64, 64, 700}), 0, 0).value();
  EXPECT_FALSE(r.cct_kelvin);
  EXPECT_FALSE(r.duv);
  EXPECT_NEAR(r.xy->x, 0.131, 1e-9);
  EXPECT_FALSE(r.inside_bt709);
  EXPECT_FALSE(r.inside_p3);
  EXPECT_NEAR(r.luminance_cdm2 / r.max_rgb_cdm2, 0.0593, 1e-4);
}

TEST(Probe, OfBlackHasNoChromaticity) {
  const auto r = probe(flat_rgb(10, colour::Range::narrow, Transfer::pq, {64, 64, 64}), 3, 3).value();
  EXPECT_FALSE(r.xy);
  EXPECT_FALSE(r.uv_prime);
  EXPECT_FALSE(r.cct_kelvin);
  EXPECT_EQ(r.luminance_cdm2, 0);
  EXPECT_TRUE(r.inside_bt709);
}

TEST(Probe, OutsideThePictureIsRefusedWithWhatIsInside) {
  const auto picture = flat_rgb(10, colour::Range::full, Transfer::pq, {1, 2, 3});
  for (const auto& [x, y] : {std::pair{4, 0}, {0, 4}, {-1, 0}, {0, -1}}) {
    const auto r = probe(picture, x, y);
    ASSERT_FALSE(r);
    EXPECT_EQ(r.error().code, ErrorCode::out_of_range);
    EXPECT_NE(r.error().advice.find("0 to 3"), std::string::npos);
  }
}

}  // namespace
}  // namespace provenit::programme
