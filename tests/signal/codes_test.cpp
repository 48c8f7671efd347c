#include "provenit/signal/codes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "provenit/colour/quantise.h"
#include "provenit/colour/transfer.h"

namespace provenit::signal {
namespace {

Encoding encoding(Transfer transfer, int bits, Range range, double peak_cdm2 = 1000) {
  return {.transfer = transfer, .bits = bits, .range = range, .nominal_peak_cdm2 = peak_cdm2};
}

int grey(const Encoding& e, double cdm2) {
  return grey_code(e, colour::Luminance<>{.cdm2 = cdm2}).value().code[0];
}

TEST(GreyCode, PqMatchesTheTableOfLevels) {
  // Calculated from SMPTE ST 2084:2014 equation 5.2 and the BT.2100-3 quantisation, in 50-digit arithmetic apart from
  // this project's functions. Columns: cd/m2; 10-bit narrow, full; 12-bit narrow, full.
  const struct {
    double cdm2;
    int narrow10, full10, narrow12, full12;
  } rows[] = {{0.001, 70, 6, 278, 26},      {0.005, 77, 15, 309, 62},     {0.01, 83, 22, 331, 88},
              {0.1, 119, 64, 474, 255},     {1, 195, 153, 781, 614},      {10, 327, 307, 1306, 1227},
              {26, 397, 389, 1588, 1556},   {100, 509, 520, 2036, 2081},  {203, 573, 594, 2291, 2378},
              {400, 636, 668, 2543, 2672},  {600, 674, 712, 2696, 2851},  {1000, 723, 769, 2890, 3079},
              {2000, 789, 846, 3155, 3388}, {4000, 855, 923, 3419, 3696}, {10000, 940, 1023, 3760, 4095}};
  for (const auto& row : rows) {
    EXPECT_EQ(grey(encoding(Transfer::pq, 10, Range::narrow), row.cdm2), row.narrow10) << row.cdm2;
    EXPECT_EQ(grey(encoding(Transfer::pq, 10, Range::full), row.cdm2), row.full10) << row.cdm2;
    EXPECT_EQ(grey(encoding(Transfer::pq, 12, Range::narrow), row.cdm2), row.narrow12) << row.cdm2;
    EXPECT_EQ(grey(encoding(Transfer::pq, 12, Range::full), row.cdm2), row.full12) << row.cdm2;
  }
}

TEST(GreyCode, HlgReferenceWhiteIsThreeQuarters) {
  // Report ITU-R BT.2408: diffuse white, 203 cd/m2 on a 1000 cd/m2 display, is 75 % HLG: 0.75 * 876 + 64 = 721.
  EXPECT_EQ(grey(encoding(Transfer::hlg, 10, Range::narrow), 203), 721);
}

TEST(GreyCode, Bt1886IsAPowerLawWithBlackAtZero) {
  const auto e = encoding(Transfer::bt1886, 10, Range::narrow, 100);
  EXPECT_EQ(grey(e, 100), 940);
  EXPECT_EQ(grey(e, 100 * std::pow(0.5, 2.4)), 502);
}

TEST(GreyCode, FindsBackEveryCodeFromItsLuminance) {
  for (const auto range : {Range::narrow, Range::full}) {
    for (const auto transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886}) {
      const auto e = encoding(transfer, 10, range);
      for (int code = black_code(e).code[0]; code <= peak_code(e).code[0]; ++code) {
        const auto s = colour::dequantise(
            {.value = code, .bits = 10, .range = range == Range::narrow ? colour::Range::narrow : colour::Range::full});
        const colour::Luminance<> peak{.cdm2 = 1000}, black{.cdm2 = 0};
        const double cdm2 =
            transfer == Transfer::pq ? colour::pq_eotf(s).cdm2
            : transfer == Transfer::hlg
                ? colour::hlg_eotf_grey(s, colour::HlgDisplay<>{.peak = peak, .black = black, .system_gamma = 1.2}).cdm2
                : colour::bt1886_eotf(s, colour::Bt1886Display<>{.peak = peak, .black = black}).cdm2;
        ASSERT_EQ(grey(e, cdm2), code) << name_of(transfer) << ' ' << cdm2;
      }
    }
  }
}

TEST(GreyCode, StaysBetweenBlackAndPeak) {
  for (const auto transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886}) {
    for (const int bits : {8, 10, 12, 16}) {
      const auto e = encoding(transfer, bits, Range::narrow);
      EXPECT_EQ(black_code(e).code[0], 16 << (bits - 8));
      EXPECT_EQ(peak_code(e).code[0], 235 << (bits - 8));
      EXPECT_EQ(grey(e, 0), black_code(e).code[0]);
      EXPECT_EQ(grey(e, -1), black_code(e).code[0]);
      EXPECT_EQ(grey(e, std::numeric_limits<double>::infinity()), peak_code(e).code[0]);
      const auto full = encoding(transfer, bits, Range::full);
      EXPECT_EQ(black_code(full).code[0], 0);
      EXPECT_EQ(peak_code(full).code[0], (1 << bits) - 1);
      EXPECT_EQ(grey(full, 1e9), (1 << bits) - 1);
    }
  }
}

TEST(GreyCode, RefusesWhatIsNoLuminanceOrNoEncoding) {
  Encoding e;
  EXPECT_FALSE(grey_code(e, colour::Luminance<>{.cdm2 = std::numeric_limits<double>::quiet_NaN()}));
  e.bits = 9;
  EXPECT_FALSE(grey_code(e, colour::Luminance<>{.cdm2 = 1}));
}

}  // namespace
}  // namespace provenit::signal
