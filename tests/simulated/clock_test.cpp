#include "provenit/simulated/clock.h"

#include <gtest/gtest.h>

#include "provenit/base/text.h"

namespace provenit::simulated {
namespace {

TEST(SimulatedClock, JumpsByWholeMillisecondsAndNeverBack) {
  SimulatedClock clock({1.8e9});
  clock.wait({0.5});
  EXPECT_EQ(clock.now().unix_s, 1.8e9 + 0.5);
  clock.wait({0.0001});
  EXPECT_EQ(clock.now().unix_s, 1.8e9 + 0.501);
  clock.wait({0});
  clock.wait({-3});
  EXPECT_EQ(clock.now().unix_s, 1.8e9 + 0.501);
}

TEST(SimulatedClock, WaitingAWholeMillisecondTakesNoLonger) {
  SimulatedClock clock({0});
  for (int i = 0; i < 1000; ++i) clock.wait({0.007});
  EXPECT_EQ(clock.now().unix_s, 7);
}

TEST(SimulatedClock, TimeWrittenAndReadBackIsTheSameTime) {
  SimulatedClock clock({1.8e9});
  for (int i = 0; i < 2000; ++i) {
    clock.wait({0.0137});
    const auto read = parse_iso8601(iso8601(clock.now()));
    ASSERT_TRUE(read);
    SimulatedClock again(*read);
    ASSERT_EQ(again.now(), clock.now());
  }
}

}  // namespace
}  // namespace provenit::simulated
