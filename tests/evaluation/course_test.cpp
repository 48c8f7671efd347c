// The smooth course between readings, against functions that are known.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "course_internal.h"

namespace provenit::evaluation {
namespace {

TEST(Course, AStraightLineStaysOne) {
  const Course two({1, 3}, {10, 4}), four({0, 1, 5, 6}, {0, 2, 10, 12});
  EXPECT_NEAR(two.crossing(0, 7), 2, 1e-9);
  EXPECT_NEAR(four.crossing(1, 5), 2.5, 1e-9);
}

TEST(Course, AnExponentialIsPassedNearerThanByALine) {
  const std::vector<double> at{0, 15, 60, 120, 180, 300, 420, 600};
  std::vector<double> value;
  for (const double t : at) value.push_back(std::exp(-t / 200));
  const double level = std::exp(-0.5 * 3.1), truth = 310;  // between 300 and 420
  const double line = 300 + 120 * (value[5] - level) / (value[5] - value[6]);
  EXPECT_LT(std::fabs(Course(at, value).crossing(5, level) - truth), 0.25 * std::fabs(line - truth));
}

TEST(Course, DoesNotLeaveTheValuesBesideIt) {
  // Flat, then a fall, then flat: a parabola would swing beyond, and the crossing of 0.5 is in the middle by symmetry.
  const Course step({0, 1, 2, 3}, {1, 1, 0, 0});
  EXPECT_NEAR(step.crossing(1, 0.5), 1.5, 1e-9);
  EXPECT_NEAR(step.crossing(1, 1 - 1e-6), 1, 1e-2);
}

}  // namespace
}  // namespace provenit::evaluation
