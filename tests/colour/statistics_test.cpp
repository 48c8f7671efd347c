#include "provenit/colour/statistics.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace provenit::colour {
namespace {

TEST(StudentFactor, MatchesTheTableOfTheGum) {
  // JCGM 100:2008, Table G.2 (from memory; the row for 16 degrees of freedom is quoted in several open packages).
  struct Row {
    double nu, p, t;
  };
  for (const Row& r : {Row{1, 0.95, 12.71},
                       {2, 0.95, 4.30},
                       {5, 0.95, 2.57},
                       {10, 0.95, 2.23},
                       {16, 0.95, 2.12},
                       {16, 0.9545, 2.17},
                       {16, 0.99, 2.92},
                       {50, 0.95, 2.01},
                       {8, 0.9973, 4.28}})
    EXPECT_NEAR(student_factor(r.nu, r.p), r.t, 0.005) << r.nu << ' ' << r.p;
  EXPECT_NEAR(student_factor(std::numeric_limits<double>::infinity()), 1.959963984540054, 1e-12);
  EXPECT_NEAR(student_factor(1e6), student_factor(1e7), 1e-5);
}

TEST(ChiSquare, MatchesHandbookValues) {
  // Any table of chi-square: 0.95 quantiles for 1, 2, 3, 10 degrees of freedom.
  EXPECT_NEAR(chi_square_quantile(0.95, 1), 3.841, 5e-4);
  EXPECT_NEAR(chi_square_quantile(0.95, 2), -2 * std::log(0.05), 1e-10);
  EXPECT_NEAR(chi_square_quantile(0.95, 3), 7.815, 5e-4);
  EXPECT_NEAR(chi_square_quantile(0.95, 10), 18.307, 5e-4);
  // F(2, 10) at 0.95 is 4.10 in any table; with infinite denominator it is chi-square again.
  EXPECT_NEAR(scaled_f_quantile(0.95, 2, 10), 2 * 4.10, 0.01);
  EXPECT_NEAR(scaled_f_quantile(0.95, 2, 1e9), chi_square_quantile(0.95, 2), 1e-9);
}

TEST(SumOfSquares, PoolsByAdding) {
  const std::vector<double> a{1, 2, 3}, b{10, 14};
  const SumOfSquares pooled = sum_of_squares(a) + sum_of_squares(b);
  EXPECT_DOUBLE_EQ(pooled.degrees_of_freedom, 3);
  EXPECT_DOUBLE_EQ(pooled.variance(), (2.0 + 8.0) / 3);
  EXPECT_EQ(sum_of_squares(std::vector<double>{5}).variance(), 0);
  EXPECT_TRUE(std::isnan(mean(std::vector<double>{})));
}

TEST(Intervals, SymmetricAndShortestOfASkewedSample) {
  // Quantiles of an exponential distribution as the sample: density falls from 0, so the shortest interval starts at 0.
  std::vector<double> sample;
  const int n = 20000;
  for (int i = 0; i < n; ++i) sample.push_back(-std::log(1 - (i + 0.5) / n));
  const Interval shortest = shortest_interval(sample), symmetric = symmetric_interval(sample);
  EXPECT_NEAR(shortest.lower, 0, 1e-4);
  EXPECT_NEAR(shortest.upper, -std::log(0.05), 2e-3);
  EXPECT_NEAR(symmetric.lower, -std::log(0.975), 1e-4);
  EXPECT_NEAR(symmetric.upper, -std::log(0.025), 2e-3);
}

// Against draws, and at both ends against what is known: 0.95 of a rectangle, 1.96 of a normal distribution.
TEST(Intervals, OfRoundingAndNoise) {
  EXPECT_DOUBLE_EQ(rounded_reach(0.5, 0), 0.475);
  EXPECT_NEAR(rounded_reach(0.5, 1e-4), 0.475, 1e-6);
  EXPECT_NEAR(rounded_reach(0, 2), 2 * 1.959964, 1e-5);
  EXPECT_NEAR(rounded_reach(1e-3, 2), 2 * 1.959964, 1e-5);
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> even(-1, 1);
  std::normal_distribution<double> normal;
  for (const double u : {0.05, 0.3, 1.0, 3.0}) {
    const double reach = rounded_reach(1, u);
    int held = 0;
    constexpr int kDraws = 200000;
    for (int i = 0; i < kDraws; ++i) held += std::fabs(even(random) + u * normal(random)) <= reach ? 1 : 0;
    EXPECT_NEAR(held / double{kDraws}, 0.95, 0.002) << u;
  }
}

TEST(Intervals, ShortestHoldsAsManyAsItSays) {
  std::vector<double> sample;
  for (int i = 0; i < 100; ++i) sample.push_back(i < 50 ? i * 1.0 : 1000.0 + i * i);
  const Interval half = shortest_interval(sample, 0.5);
  int held = 0;
  for (double v : sample) held += half.contains(v);
  EXPECT_GE(held, 50);
  EXPECT_LE(held, 51);
  const std::vector<double> two{1, 2};
  EXPECT_TRUE(shortest_interval(two).contains(1) && shortest_interval(two).contains(2));
}

}  // namespace
}  // namespace provenit::colour
