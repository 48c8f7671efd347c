#include "provenit/signal/encoding.h"

#include <gtest/gtest.h>

#include "provenit/signal/codes.h"

namespace provenit::signal {
namespace {

TEST(SignalOf, IsZeroAtBlackOneAtPeakAndUndoesGreyCode) {
  for (int bits : {8, 10, 12, 16})
    for (const auto range : {Range::narrow, Range::full}) {
      const Encoding e{.bits = bits, .range = range};
      EXPECT_EQ(signal_of(e, black_code(e).code[0]).value, 0);
      EXPECT_EQ(signal_of(e, peak_code(e).code[0]).value, 1);
      for (const int code : {black_code(e).code[0] + 1, peak_code(e).code[0] / 2, peak_code(e).code[0] - 1})
        EXPECT_EQ(grey_code(e, signal_of(e, code)).code[0], code) << bits;
    }
}

TEST(SignalOf, OfThreeIsEachByItself) {
  const Encoding e;
  const auto s = signal_of(e, CodeRgb{{64, 502, 940}});
  EXPECT_EQ(s.r, 0);
  EXPECT_EQ(s.g, 0.5);  // (502 - 64) / 876
  EXPECT_EQ(s.b, 1);
}

TEST(PrimariesOf, AreTheDocuments) {
  // Green: BT.709-6 0.300 0.600; ST 2113 0.265 0.690; BT.2020-2 0.170 0.797.
  EXPECT_EQ(primaries_of(Container::bt709).green.x, 0.300);
  EXPECT_EQ(primaries_of(Container::p3_d65).green.x, 0.265);
  EXPECT_EQ(primaries_of(Container::bt2020).green.x, 0.170);
  for (const auto c : {Container::bt709, Container::p3_d65, Container::bt2020})
    EXPECT_EQ(primaries_of(c).white.x, 0.3127);
}

}  // namespace
}  // namespace provenit::signal
