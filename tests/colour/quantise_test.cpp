#include "provenit/colour/quantise.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "provenit/colour/transfer_pq.h"

namespace provenit::colour {
namespace {

int code(double e, int bits, Range range, Component component = Component::luma) {
  return quantise(Signal<>{.value = e}, bits, range, component).value;
}

TEST(Quantise, RangesAreTheDocuments) {
  // Rec. ITU-R BT.2100-3: 10 bits 64 to 940 and 64 to 960 around 512; 12 bits 256 to 3760 and 256 to 3840 around 2048.
  EXPECT_EQ(code(0, 10, Range::narrow), 64);
  EXPECT_EQ(code(1, 10, Range::narrow), 940);
  EXPECT_EQ(code(0, 12, Range::narrow), 256);
  EXPECT_EQ(code(1, 12, Range::narrow), 3760);
  EXPECT_EQ(code(0, 8, Range::narrow), 16);
  EXPECT_EQ(code(1, 8, Range::narrow), 235);
  EXPECT_EQ(code(0, 16, Range::narrow), 4096);
  EXPECT_EQ(code(1, 16, Range::narrow), 60160);
  EXPECT_EQ(code(-0.5, 10, Range::narrow, Component::chroma), 64);
  EXPECT_EQ(code(0, 10, Range::narrow, Component::chroma), 512);
  EXPECT_EQ(code(0.5, 10, Range::narrow, Component::chroma), 960);
  EXPECT_EQ(code(0.5, 12, Range::narrow, Component::chroma), 3840);
  EXPECT_EQ(code(1, 10, Range::full), 1023);
  EXPECT_EQ(code(1, 16, Range::full), 65535);
  EXPECT_EQ(code(0, 10, Range::full, Component::chroma), 512);
  EXPECT_EQ(code(0.5, 10, Range::full, Component::chroma), 1023);  // 1023.5 + 0.5, clamped
  EXPECT_EQ(code(-0.5, 10, Range::full, Component::chroma), 1);
}

TEST(Quantise, VideoDataRangeIsKept) {
  // 10-bit codes 0 to 3 and 1020 to 1023 are timing references.
  EXPECT_EQ(video_data_range(10, Range::narrow).lowest, 4);
  EXPECT_EQ(video_data_range(10, Range::narrow).highest, 1019);
  EXPECT_EQ(video_data_range(12, Range::narrow).lowest, 16);
  EXPECT_EQ(video_data_range(12, Range::narrow).highest, 4079);
  EXPECT_EQ(video_data_range(8, Range::narrow).highest, 254);
  EXPECT_EQ(video_data_range(10, Range::full).highest, 1023);
  EXPECT_EQ(code(-1, 10, Range::narrow), 4);
  EXPECT_EQ(code(2, 10, Range::narrow), 1019);
  EXPECT_EQ(code(-1, 10, Range::full), 0);
  EXPECT_EQ(code(1e300, 10, Range::full), 1023);
  EXPECT_NEAR(dequantise({.value = 1019, .bits = 10, .range = Range::narrow}).value, 1.0902, 5e-5);
  EXPECT_NEAR(dequantise({.value = 4, .bits = 10, .range = Range::narrow}).value, -0.0685, 5e-5);
  // A full-range signal read as narrow shows itself: 0 as -0.073 and 1023 as 1.095.
  EXPECT_NEAR(dequantise({.value = 0, .bits = 10, .range = Range::narrow}).value, -0.073, 5e-4);
  EXPECT_NEAR(dequantise({.value = 1023, .bits = 10, .range = Range::narrow}).value, 1.095, 5e-4);
}

TEST(Quantise, HalvesRoundUp) {
  EXPECT_EQ(code(0.5 / 255, 8, Range::full), 1);
  EXPECT_EQ(code(0.4999 / 255, 8, Range::full), 0);
  EXPECT_EQ(code(2.5 / 219, 8, Range::narrow), 19);
}

TEST(Quantise, PqCodesMatchTheWorkedValues) {
  // Worked values pq_codes: Rec. ITU-R BT.2100-3 at 40 digits, narrow and full.
  const struct {
    double cdm2;
    int narrow10, full10, narrow12, full12;
  } rows[] = {{0, 64, 0, 256, 0},           {0.0001, 65, 2, 262, 7},      {0.005, 77, 15, 309, 62},
              {0.1, 119, 64, 474, 255},     {1, 195, 153, 781, 614},      {10, 327, 307, 1306, 1227},
              {100, 509, 520, 2036, 2081},  {203, 573, 594, 2291, 2378},  {400, 636, 668, 2543, 2672},
              {1000, 723, 769, 2890, 3079}, {4000, 855, 923, 3419, 3696}, {10000, 940, 1023, 3760, 4095}};
  for (const auto& row : rows) {
    const double e = pq_inverse_eotf(Luminance<>{.cdm2 = row.cdm2}).value;
    EXPECT_EQ(code(e, 10, Range::narrow), row.narrow10) << row.cdm2;
    EXPECT_EQ(code(e, 10, Range::full), row.full10) << row.cdm2;
    EXPECT_EQ(code(e, 12, Range::narrow), row.narrow12) << row.cdm2;
    EXPECT_EQ(code(e, 12, Range::full), row.full12) << row.cdm2;
  }
  // pq_code_to_luminance (rel 1e-9).
  const auto light = [](int value, int bits, Range range) {
    return pq_eotf(dequantise({.value = value, .bits = bits, .range = range})).cdm2;
  };
  EXPECT_EQ(light(64, 10, Range::narrow), 0);
  EXPECT_NEAR(light(723, 10, Range::narrow), 1004.19190398007, 1e-9 * 1004);
  EXPECT_NEAR(light(940, 10, Range::narrow), 10000, 1e-5);
  EXPECT_NEAR(light(769, 10, Range::full), 998.932391045043, 1e-9 * 999);
  EXPECT_NEAR(light(2081, 12, Range::full), 100.101964803436, 1e-9 * 100);
}

TEST(Quantise, EveryCodeOfEveryFormatComesBack) {
  for (int bits : {8, 10, 12, 16})
    for (Range range : {Range::narrow, Range::full})
      for (Component component : {Component::luma, Component::chroma}) {
        const CodeLimits limits = video_data_range(bits, range);
        int wrong = 0;
        for (int v = limits.lowest; v <= limits.highest; ++v) {
          const CodeValue c{.value = v, .bits = bits, .range = range};
          wrong += quantise(dequantise(c, component), bits, range, component) != c;
        }
        EXPECT_EQ(wrong, 0) << bits;
      }
}

// More signal never gives a smaller code, in any format.
RC_GTEST_PROP(Quantise, IsMonotone, ()) {
  const auto draw = [] { return -0.2 + 1.5 * *rc::gen::inRange(0, 1 << 24) / (1 << 24); };
  const double a = draw(), b = draw();
  const int bits = *rc::gen::element(8, 10, 12, 16);
  const Component component = *rc::gen::element(Component::luma, Component::chroma);
  for (Range range : {Range::narrow, Range::full})
    RC_ASSERT(code(std::min(a, b), bits, range, component) <= code(std::max(a, b), bits, range, component));
}

}  // namespace
}  // namespace provenit::colour
