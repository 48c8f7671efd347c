#pragma once
// What every pair f / inverse f must show, whatever its formula: tables of points never touch the places between them.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <string>

namespace provenit::colour {

inline constexpr int kPoints = 65537;

struct Curve {
  std::string name;
  std::function<double(double)> forward, inverse;
  double low = 0, high = 1;    ///< where forward is defined by its document
  double round_trip_from = 0;  ///< inverse(forward(x)) is held to `relative` from here on
  double relative = 1e-9;      ///< largest relative error of the round trip
  double bias = 1e-13;         ///< of the mean signed relative error
};

/// Monotone and never NaN within the range, and beyond it by as much again on both sides; NaN stays NaN.
inline void expect_monotone_and_finite(const Curve& c) {
  const double span = c.high - c.low;
  double last = -std::numeric_limits<double>::infinity();
  int falls = 0, not_finite = 0;
  for (int i = 0; i < 3 * kPoints; ++i) {
    const double x = c.low - span + span * i / (kPoints - 1), y = c.forward(x);
    not_finite += !std::isfinite(y);
    falls += y < last;
    last = y;
  }
  EXPECT_EQ(not_finite, 0) << c.name;
  EXPECT_EQ(falls, 0) << c.name;
  EXPECT_TRUE(std::isnan(c.forward(std::numeric_limits<double>::quiet_NaN()))) << c.name;
  EXPECT_TRUE(std::isnan(c.inverse(std::numeric_limits<double>::quiet_NaN()))) << c.name;
}

/// Error of inverse(forward(x)): the largest, and the mean with its sign (a bias adds up over a chain of conversions).
inline void expect_round_trip(const Curve& c) {
  double worst = 0, worst_at = 0, sum = 0;
  int count = 0;
  for (int i = 0; i < kPoints; ++i) {
    const double x = c.low + (c.high - c.low) * i / (kPoints - 1);
    if (x < c.round_trip_from || x == 0) continue;
    const double error = (c.inverse(c.forward(x)) - x) / std::fabs(x);
    sum += error;
    ++count;
    if (!(std::fabs(error) <= worst)) {
      worst = std::fabs(error);
      worst_at = x;
    }
  }
  ASSERT_GT(count, kPoints / 2) << c.name;
  EXPECT_LE(worst, c.relative) << c.name << " at " << worst_at;
  EXPECT_LE(std::fabs(sum / count), c.bias) << c.name;
}

inline void expect_curve(const Curve& c) {
  expect_monotone_and_finite(c);
  expect_round_trip(c);
}

}  // namespace provenit::colour
