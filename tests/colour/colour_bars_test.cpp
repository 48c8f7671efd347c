#include "provenit/colour/colour_bars.h"

#include <gtest/gtest.h>

#include "provenit/colour/transfer_pq.h"

namespace provenit::colour {
namespace {

std::array<int, 3> codes(Bar bar, BarSystem system, double level, int bits = 10) {
  const auto c = bt709_bar_codes(bar, system, level, bits, Range::narrow);
  return {c[0].value, c[1].value, c[2].value};
}

// Codes of BT.2111 from memory; all 24 are rows of data/reference/worked_values.csv.
TEST(ColourBars, RedAndYellow) {
  EXPECT_EQ(codes(Bar::red, BarSystem::hlg_scene, 0.75), (std::array{639, 269, 164}));
  EXPECT_EQ(codes(Bar::yellow, BarSystem::pq_display, 0.58), (std::array{568, 571, 381}));
}

TEST(ColourBars, WhiteIsTheLevelAndBlackIsBlack) {
  for (const double level : {0.25, 0.58, 0.75, 1.0}) {
    const auto s = bt709_bar_signal(Bar::white, BarSystem::pq_display, level);
    EXPECT_NEAR(s.r, level, 1e-12);
    EXPECT_NEAR(s.b, level, 1e-12);
    EXPECT_NEAR(bt709_bar_signal(Bar::white, BarSystem::hlg_scene, level).g, level, 1e-7);
  }
  EXPECT_EQ(codes(Bar::black, BarSystem::pq_display, 0.58), (std::array{64, 64, 64}));
  EXPECT_EQ(codes(Bar::black, BarSystem::hlg_scene, 0.75, 12), (std::array{256, 256, 256}));
}

}  // namespace
}  // namespace provenit::colour
