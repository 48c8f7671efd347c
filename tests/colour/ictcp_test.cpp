#include "provenit/colour/ictcp.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

namespace provenit::colour {
namespace {

void expect_ictcp(const Ictcp<>& c, double i, double ct, double cp, double tolerance) {
  EXPECT_NEAR(c.i, i, tolerance);
  EXPECT_NEAR(c.ct, ct, tolerance);
  EXPECT_NEAR(c.cp, cp, tolerance);
}

TEST(Ictcp, PqFormMatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.2100-3, worked values ictcp_pq (abs 1e-9; held to 1e-12).
  const auto at = [](double r, double g, double b) { return ictcp_from_pq_rgb(AbsoluteRgb<>{.r = r, .g = g, .b = b}); };
  expect_ictcp(at(10000, 10000, 10000), 1, 0, 0, 1e-12);
  expect_ictcp(at(203, 203, 203), 0.580688881041608, 0, 0, 1e-12);
  expect_ictcp(at(0.005, 0.005, 0.005), 0.015076399042368, 0, 0, 1e-12);
  expect_ictcp(at(100, 0, 0), 0.381769681728626, -0.11236062732893, 0.37163809347771, 1e-12);
  expect_ictcp(at(0, 100, 0), 0.460143333466626, -0.387604509980901, -0.108729819585693, 1e-12);
  expect_ictcp(at(0, 0, 100), 0.287448170176789, 0.251520036341798, -0.216071031600676, 1e-12);
  expect_ictcp(at(203, 150, 100), 0.556435263117817, -0.0477399044357249, 0.0483840489683336, 1e-12);
  expect_ictcp(at(4000, 3000, 10), 0.872160833048938, -0.37484559207258, 0.0922697125434012, 1e-12);
}

TEST(Ictcp, HlgFormMatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.2100-2 and later, worked values ictcp_hlg (abs 1e-8; held to 1e-12).
  const auto at = [](double r, double g, double b) {
    return ictcp_from_hlg_rgb(RelativeRgb<>{.r = r, .g = g, .b = b});
  };
  expect_ictcp(at(1, 1, 1), 0.999999995066131, 0, 0, 1e-12);
  expect_ictcp(at(1, 0, 0), 0.745836794922968, -0.204926140210862, 0.441576977624177, 1e-12);
  expect_ictcp(at(0, 0.2, 0.05), 0.597874721780921, -0.259832148101722, -0.152208676580009, 1e-12);
}

TEST(Ictcp, FirstEditionGaveHlgTheRowsOfPq) {
  const RelativeRgb<> red{.r = 1, .g = 0, .b = 0};
  const Ictcp<> first = ictcp_from_hlg_rgb(red, Bt2100Edition::bt2100_1), later = ictcp_from_hlg_rgb(red);
  EXPECT_EQ(first.i, later.i);
  // L', M', S' of that red by hand: HLG OETF of 1688, 683, 99 / 4096.
  const auto e = [](double x) { return hlg_oetf(Relative<>{.value = x / 4096}).value; };
  EXPECT_NEAR(first.ct, (6610 * e(1688) - 13613 * e(683) + 7003 * e(99)) / 4096, 1e-14);
  EXPECT_NEAR(first.cp, (17933 * e(1688) - 17390 * e(683) - 543 * e(99)) / 4096, 1e-14);
  const RelativeRgb<> back = hlg_rgb_from_ictcp(first, Bt2100Edition::bt2100_1);
  EXPECT_NEAR(back.r, 1, 1e-12);
  EXPECT_NEAR(back.b, 0, 1e-12);
}

TEST(Ictcp, GreysHaveNoColourDifference) {
  for (double l : {0.0, 0.001, 1.0, 100.0, 10000.0}) {
    const Ictcp<> c = ictcp_from_pq_rgb(AbsoluteRgb<>{.r = l, .g = l, .b = l});
    EXPECT_NEAR(c.ct, 0, 1e-15);
    EXPECT_NEAR(c.cp, 0, 1e-15);
    EXPECT_NEAR(c.i, pq_inverse_eotf(Luminance<>{.cdm2 = l}).value, 1e-15);
  }
}

TEST(Ictcp, RowsAreTheDocuments) {
  // Each row of the colour differences sums to 0 and each of the light matrix to 1: as printed, over 4096.
  for (const Matrix3<>& m : {detail::ictcp_from_lms_pq, detail::ictcp_from_lms_hlg})
    for (std::size_t i = 1; i < 3; ++i) EXPECT_EQ(m(i, 0) + m(i, 1) + m(i, 2), 0);
  for (std::size_t i = 0; i < 3; ++i)
    EXPECT_EQ(detail::lms_from_rgb(i, 0) + detail::lms_from_rgb(i, 1) + detail::lms_from_rgb(i, 2), 1);
}

TEST(Itp, HalvesCt) {
  const Ictcp<> c{.i = 0.5, .ct = -0.2, .cp = 0.1};
  const Itp<> itp = itp_from_ictcp(c);
  EXPECT_EQ(itp.t, -0.1);
  EXPECT_EQ(itp.p, 0.1);
  EXPECT_EQ(ictcp_from_itp(itp).ct, -0.2);
}

RC_GTEST_PROP(Ictcp, RoundTrips, ()) {
  const auto draw = [] { return std::pow(10.0, -4 + 8.0 * *rc::gen::inRange(0, 1 << 20) / (1 << 20)); };
  const AbsoluteRgb<> c{.r = draw(), .g = draw(), .b = draw()};
  const AbsoluteRgb<> back = pq_rgb_from_ictcp(ictcp_from_pq_rgb(c));
  const double largest = std::max({c.r, c.g, c.b});
  RC_ASSERT(std::fabs(back.r - c.r) <= 1e-9 * largest);
  RC_ASSERT(std::fabs(back.g - c.g) <= 1e-9 * largest);
  RC_ASSERT(std::fabs(back.b - c.b) <= 1e-9 * largest);
  for (const Bt2100Edition edition : {Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2}) {
    const RelativeRgb<> scene{.r = c.r / 1e4, .g = c.g / 1e4, .b = c.b / 1e4};
    const RelativeRgb<> again = hlg_rgb_from_ictcp(ictcp_from_hlg_rgb(scene, edition), edition);
    RC_ASSERT(std::fabs(again.r - scene.r) <= 1e-9 * largest / 1e4);
    RC_ASSERT(std::fabs(again.b - scene.b) <= 1e-9 * largest / 1e4);
  }
}

}  // namespace
}  // namespace provenit::colour
