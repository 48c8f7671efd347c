#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "ranges_internal.h"

namespace provenit::evaluation {
namespace {

/// Values as read of a display whose true values are `shape` x `scale`, and draws of errors of the same size.
RangeProblem problem(double scale, std::mt19937_64& random, std::size_t n = 25, double noise = 0.001) {
  std::normal_distribution<double> normal(0, noise);
  RangeProblem p;
  for (std::size_t i = 0; i < n; ++i) {
    const double truth = scale * std::cos(6.28318 * static_cast<double>(i) / static_cast<double>(n - 1));
    p.measured.push_back(truth + normal(random));
  }
  p.errors.resize(400 * n);
  for (auto& e : p.errors) e = static_cast<float>(normal(random));
  return p;
}

double held_percent(double scale, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  int held = 0;
  constexpr int trials = 150;
  for (int i = 0; i < trials; ++i) held += range_interval(problem(scale, random)).interval.contains(2 * scale);
  return 100.0 * held / trials;
}

TEST(Ranges, HoldTheTruthFromPerfectToPoor) {
  // One standard deviation of 150 trials is 1.8 %.
  for (const double scale : {0.003, 0.01, 0.05}) {
    EXPECT_GE(held_percent(scale, 3), 90) << scale;
    EXPECT_LE(held_percent(scale, 4), 99.4) << scale;
  }
  EXPECT_GE(held_percent(0, 5), 92) << "a perfect display cannot be missed from above";
}

TEST(Ranges, TheValueIsNotBiasedUpAsTheRangeAsReadIs) {
  std::mt19937_64 random(11);
  double as_read = 0, value = 0;
  for (int i = 0; i < 100; ++i) {
    const auto r = range_interval(problem(0.002, random));
    as_read += r.as_read / 100;
    value += r.value / 100;
    EXPECT_LE(r.interval.lower, r.value);
    EXPECT_LE(r.value, r.interval.upper);
    EXPECT_GE(r.interval.lower, 0);
  }
  EXPECT_GT(as_read, 0.0048);
  EXPECT_LT(std::abs(value - 0.004), 0.5 * (as_read - 0.004));
}

TEST(Ranges, WithoutErrorsTheRangeIsWhatIsRead) {
  RangeProblem p{.measured = {1, 3, 2}, .errors = std::vector<float>(300, 0.0F)};
  const auto r = range_interval(p);
  EXPECT_NEAR(r.value, 2, 1e-3);
  EXPECT_NEAR(r.interval.lower, 2, 1e-3);
  EXPECT_NEAR(r.interval.upper, 2, 1e-3);
}

}  // namespace
}  // namespace provenit::evaluation
