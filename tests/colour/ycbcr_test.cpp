#include "provenit/colour/ycbcr.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

namespace provenit::colour {
namespace {

TEST(Ycbcr, CodesMatchTheWorkedValues) {
  // Rec. ITU-R BT.2020-2 NCL, worked values ycbcr_bt2020_ncl_codes (exact); full range by BT.2100-3's formula.
  const struct {
    double r, g, b;
    int bits;
    Range range;
    int y, cb, cr;
  } rows[] = {
      {0, 0, 0, 10, Range::narrow, 64, 512, 512},           {1, 1, 1, 10, Range::narrow, 940, 512, 512},
      {1, 0, 0, 10, Range::narrow, 294, 387, 960},          {0, 1, 0, 10, Range::narrow, 658, 189, 100},
      {0, 0, 1, 10, Range::narrow, 116, 960, 476},          {1, 1, 0, 10, Range::narrow, 888, 64, 548},
      {0.58, 0.58, 0.58, 10, Range::narrow, 572, 512, 512}, {0.75, 0.5, 0.25, 10, Range::narrow, 547, 369, 633},
      {1, 0, 0, 12, Range::narrow, 1177, 1548, 3840},       {0.2, 0.4, 0.6, 12, Range::narrow, 1515, 2506, 1661},
      {0.75, 0.5, 0.25, 10, Range::full, 564, 348, 650}};
  for (const auto& row : rows) {
    const auto signal = ycbcr_from_rgb(SignalRgb<>{.r = row.r, .g = row.g, .b = row.b}, YcbcrMatrix::bt2020_ncl);
    const YcbcrCodes codes = quantise(signal, row.bits, row.range);
    EXPECT_EQ(codes.y.value, row.y);
    EXPECT_EQ(codes.cb.value, row.cb);
    EXPECT_EQ(codes.cr.value, row.cr);
  }
}

TEST(Ycbcr, DivisorsAreThoseInPrint) {
  // BT.709: 1.8556 and 1.5748; BT.2020: 1.8814 and 1.4746.
  for (const auto& [matrix, cb, cr] :
       {std::tuple{YcbcrMatrix::bt709, 1.8556, 1.5748}, std::tuple{YcbcrMatrix::bt2020_ncl, 1.8814, 1.4746}}) {
    const LumaShares k = luma_shares(matrix);
    EXPECT_NEAR(2 - 2 * k.blue, cb, 1e-15);
    EXPECT_NEAR(2 - 2 * k.red, cr, 1e-15);
    const auto blue = ycbcr_from_rgb(SignalRgb<>{.r = 0, .g = 0, .b = 1}, matrix);
    EXPECT_NEAR(blue.cb, 0.5, 1e-15);
    const auto red = ycbcr_from_rgb(SignalRgb<>{.r = 1, .g = 0, .b = 0}, matrix);
    EXPECT_NEAR(red.cr, 0.5, 1e-15);
  }
}

RC_GTEST_PROP(Ycbcr, SignalsComeBack, ()) {
  const auto draw = [] { return -0.1 + 1.2 * *rc::gen::inRange(0, 1 << 20) / (1 << 20); };
  const SignalRgb<> s{.r = draw(), .g = draw(), .b = draw()};
  for (const YcbcrMatrix matrix : {YcbcrMatrix::bt709, YcbcrMatrix::bt2020_ncl}) {
    const SignalRgb<> back = rgb_from_ycbcr(ycbcr_from_rgb(s, matrix), matrix);
    RC_ASSERT(std::fabs(back.r - s.r) < 1e-15 * 8);
    RC_ASSERT(std::fabs(back.g - s.g) < 1e-15 * 8);
    RC_ASSERT(std::fabs(back.b - s.b) < 1e-15 * 8);
  }
}

// Through codes, each of R', G', B' comes back within the sum of the three half steps' effects.
RC_GTEST_PROP(Ycbcr, CodesComeBackWithinTheirSteps, ()) {
  const auto draw = [] { return 1.0 * *rc::gen::inRange(0, 1 << 20) / (1 << 20); };
  const SignalRgb<> s{.r = draw(), .g = draw(), .b = draw()};
  const int bits = *rc::gen::element(8, 10, 12, 16);
  const Range range = *rc::gen::element(Range::narrow, Range::full);
  const auto signal = ycbcr_from_rgb(s, YcbcrMatrix::bt2020_ncl);
  const YcbcrCodes codes = quantise(signal, bits, range);
  const SignalYcbcr<> again = dequantise(codes);
  const double step = 1.0 / (219 << (bits - 8));
  RC_ASSERT(std::fabs(again.y - signal.y) <= 0.5 * step);
  RC_ASSERT(std::fabs(again.cb - signal.cb) <= 0.5 * step + (range == Range::full ? 0.5 * step : 0));
  const SignalRgb<> back = rgb_from_ycbcr(again, YcbcrMatrix::bt2020_ncl);
  RC_ASSERT(std::fabs(back.r - s.r) <= 2.5 * step);
  RC_ASSERT(std::fabs(back.b - s.b) <= 2.5 * step);
}

}  // namespace
}  // namespace provenit::colour
