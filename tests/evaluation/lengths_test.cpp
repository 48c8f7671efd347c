#include "provenit/evaluation/lengths.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <string>
#include <vector>

namespace provenit::evaluation {
namespace {

/// Vectors of one point with independent normal errors of deviation 1 in each component.
LengthProblem single_point(std::vector<double> measured, int draws, std::uint64_t seed) {
  LengthProblem p{.points = 1, .dimension = measured.size(), .measured = std::move(measured)};
  p.noise_variance.assign(p.dimension, 0.0);
  for (std::size_t s = 0; s < p.dimension; ++s)
    for (std::size_t k = 0; k < p.dimension; ++k) p.common.push_back(s == k ? 1 : 0);
  std::mt19937_64 random(seed);
  std::normal_distribution<float> normal;
  for (int i = 0; i < draws * static_cast<int>(p.dimension); ++i) p.errors.push_back(normal(random));
  return p;
}

// Distribution function of |d + n| for n standard normal in `dimension` components, by its own Monte Carlo.
double probability_below(double read, double d, int dimension) {
  std::mt19937_64 random(77);
  std::normal_distribution<double> normal;
  int below = 0;
  const int n = 200000;
  for (int i = 0; i < n; ++i) {
    double squared = std::pow(d + normal(random), 2);
    for (int k = 1; k < dimension; ++k) squared += std::pow(normal(random), 2);
    below += squared <= read * read;
  }
  return static_cast<double>(below) / n;
}

TEST(Lengths, EndsAreWhereTheReadingBecomesUnlikely) {
  // Isotropic errors: the exact interval solves P(read <= r | upper) = 2.5 % and P(read >= r | lower) = 2.5 %, or up to
  // 5 % for lengths shorter than a perfect display's 95 % quantile (square root of chi-square's).
  constexpr std::array edge{0.0, 1.960, 2.448, 2.795};
  for (int dimension : {1, 2, 3}) {
    std::vector<double> measured(dimension, 0.0);
    measured[0] = 4;
    const auto r = length_interval(single_point(measured, 40000, 3));
    EXPECT_NEAR(probability_below(4, r.interval.upper, dimension), 0.025, 0.004) << dimension;
    const double above = 0.05 - 0.025 * std::min(1.0, r.interval.lower / edge[static_cast<std::size_t>(dimension)]);
    EXPECT_NEAR(probability_below(4, r.interval.lower, dimension), 1 - above, 0.004) << dimension;
    EXPECT_NEAR(r.value, 4, 1e-9);
  }
}

TEST(Lengths, ReachZeroWhenAPerfectDisplayCouldReadSo) {
  // In two dimensions a perfect display reads above 2.448 in 5 % of cases (Rayleigh).
  const double edge = std::sqrt(-2 * std::log(0.05));
  EXPECT_EQ(length_interval(single_point({edge - 0.1, 0}, 20000, 5)).interval.lower, 0);
  EXPECT_GT(length_interval(single_point({edge + 0.1, 0}, 20000, 5)).interval.lower, 0);
}

TEST(Lengths, ALuckyReadingDoesNotMakeTheIntervalVanish) {
  const auto lucky = length_interval(single_point({1e-3, 0, 0}, 5000, 5));
  EXPECT_EQ(lucky.interval.lower, 0);
  EXPECT_GT(lucky.interval.upper, 1.5);
  const auto none = length_interval(single_point({0, 0, 0}, 5000, 5));
  EXPECT_EQ(none.interval.lower, 0);
  EXPECT_GT(none.interval.upper, 1.5);
  EXPECT_TRUE(std::isfinite(none.value));
}

TEST(Lengths, NoiseOfManyPointsIsTakenOutOfTheMean) {
  // 400 points that are truly 0 and read with noise alone: the mean as read is 1.6, the truth 0.
  LengthProblem p{.points = 400, .dimension = 3};
  std::mt19937_64 random(8);
  std::normal_distribution<double> normal;
  for (std::size_t k = 0; k < p.size(); ++k) p.measured.push_back(normal(random));
  p.noise_variance.assign(p.size(), 1.0);
  for (int i = 0; i < 400; ++i)
    for (std::size_t k = 0; k < p.size(); ++k) p.errors.push_back(static_cast<float>(normal(random)));
  const auto r = length_interval(p);
  EXPECT_NEAR(r.as_read, std::sqrt(8 / std::acos(-1.0)), 0.1);
  EXPECT_EQ(r.interval.lower, 0);
  EXPECT_LT(r.value, 0.9);
}

TEST(Lengths, LargestIsAtLeastTheMean) {
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  for (int trial = 0; trial < 20; ++trial) {
    LengthProblem p{.points = 5, .dimension = 2};
    for (std::size_t k = 0; k < p.size(); ++k) p.measured.push_back(3 * normal(random));
    p.noise_variance.assign(p.size(), 0.01);
    for (int i = 0; i < 300; ++i)
      for (std::size_t k = 0; k < p.size(); ++k) p.errors.push_back(static_cast<float>(0.1 * normal(random)));
    const auto mean = length_interval(p);
    p.statistic = LengthStatistic::largest;
    const auto largest = length_interval(p);
    EXPECT_LE(mean.value, largest.value);
    for (const auto& r : {mean, largest}) {
      EXPECT_LE(r.interval.lower, r.value);
      EXPECT_LE(r.value, r.interval.upper);
    }
  }
}

// The share of intervals that hold the truth, from a perfect display (spread 0) to a poor one; common errors like those
// of a meter with 2 % of luminance scale, patterns over the steps, noise near black.
TEST(Lengths, HoldTheTruthFromPerfectToPoorDisplays) {
  constexpr int points = 16, trials = 160, draws = 250;
  constexpr std::array deviation{0.72, 0.5, 0.35};
  for (double spread : {0.0, 0.3, 1.0, 3.0}) {
    std::mt19937_64 random(11);
    std::normal_distribution<double> normal;
    int mean_held = 0, largest_held = 0;
    for (int t = 0; t < trials; ++t) {
      LengthProblem p{.points = points, .dimension = 3};
      const std::array common{spread * normal(random), 0.8 * spread * normal(random), 0.6 * spread * normal(random)};
      const double speed = 1 + 3 * std::fabs(normal(random)), phase = normal(random);
      double mean = 0, largest = 0;
      const auto noise = [](int j) { return 0.08 + 0.6 * std::exp(-j / 2.0); };
      const auto reach = [](int j) { return std::min(1.0, 0.3 + 0.1 * j); };
      const auto error = [&](auto&& add) {
        std::array<double, 3> common_error{};
        for (int k = 0; k < 3; ++k) common_error[k] = deviation[k] * normal(random);
        for (int j = 0; j < points; ++j)
          for (int k = 0; k < 3; ++k) add(common_error[k] * reach(j) + noise(j) * normal(random));
      };
      std::vector<double> truth;
      for (int j = 0; j < points; ++j) {
        const double pattern = 1.2 * spread * std::sin(speed * j / 6 + phase);
        const std::array v{common[0] + pattern, common[1] + 0.3 * pattern, common[2] - 0.2 * pattern};
        truth.insert(truth.end(), v.begin(), v.end());
        const double length = std::hypot(v[0], v[1], v[2]);
        mean += length / points;
        largest = std::max(largest, length);
        for (int k = 0; k < 3; ++k) p.noise_variance.push_back(noise(j) * noise(j));
      }
      error([&](double e) { p.measured.push_back(truth[p.measured.size()] + e); });
      for (int s = 0; s < 3; ++s)
        for (int j = 0; j < points; ++j)
          for (int k = 0; k < 3; ++k) p.common.push_back(s == k ? deviation[s] * reach(j) : 0);
      for (int i = 0; i < draws; ++i) error([&](double e) { p.errors.push_back(static_cast<float>(e)); });
      mean_held += length_interval(p).interval.contains(mean);
      p.statistic = LengthStatistic::largest;
      largest_held += length_interval(p).interval.contains(largest);
    }
    // 160 trials: one standard deviation of the share is 1.7 %.
    EXPECT_GE(mean_held, 0.91 * trials) << "spread " << spread;
    EXPECT_GE(largest_held, 0.91 * trials) << "spread " << spread;
    EXPECT_LE(mean_held, 0.99 * trials) << "spread " << spread;
    EXPECT_LE(largest_held, 0.99 * trials) << "spread " << spread;
  }
}

struct Synthetic {
  const char* name;
  std::size_t points, dimension;
  double common, noise;  ///< deviations, per component
  bool pattern;          ///< vectors in proportion to one another, as a drift's; else scatter
};

/// How many of the trials hold the true length.
int held(const Synthetic& s, LengthStatistic statistic, double size, int trials) {
  std::mt19937_64 random(21);
  std::normal_distribution<double> normal;
  int out = 0;
  for (int t = 0; t < trials; ++t) {
    LengthProblem p{.points = s.points, .dimension = s.dimension, .statistic = statistic};
    std::vector<double> truth, direction;
    for (std::size_t k = 0; k < s.dimension; ++k) direction.push_back(normal(random));
    for (std::size_t j = 0; j < s.points; ++j)
      for (std::size_t k = 0; k < s.dimension; ++k)
        truth.push_back(size * (s.pattern ? direction[k] * static_cast<double>(j + 1) / static_cast<double>(s.points)
                                          : normal(random)));
    const auto error = [&](auto&& add) {
      for (double& d : direction) d = s.common * normal(random);
      for (std::size_t i = 0; i < truth.size(); ++i) add(direction[i % s.dimension] + s.noise * normal(random));
    };
    error([&](double e) { p.measured.push_back(truth[p.measured.size()] + e); });
    p.noise_variance.assign(truth.size(), s.noise * s.noise);
    for (std::size_t k = 0; k < s.dimension; ++k)
      for (std::size_t i = 0; i < truth.size(); ++i) p.common.push_back(i % s.dimension == k ? s.common : 0);
    for (int i = 0; i < 300; ++i) error([&](double e) { p.errors.push_back(static_cast<float>(e)); });
    double mean = 0, largest = 0;
    for (std::size_t j = 0; j < s.points; ++j) {
      double squared = 0;
      for (std::size_t k = 0; k < s.dimension; ++k) squared += std::pow(truth[j * s.dimension + k], 2);
      mean += std::sqrt(squared) / static_cast<double>(s.points);
      largest = std::max(largest, std::sqrt(squared));
    }
    out += length_interval(p).interval.contains(statistic == LengthStatistic::mean ? mean : largest);
  }
  return out;
}

TEST(Lengths, HoldTheTruthOfScatterAndOfPatterns) {
  constexpr int trials = 200;  // one standard deviation of the share is 1.6 %
  for (const Synthetic& s :
       {Synthetic{"noise", 16, 2, 0, 1, false}, Synthetic{"noise of a pattern", 9, 2, 0.02, 1, true},
        Synthetic{"both", 9, 2, 1, 1, false}, Synthetic{"signed", 5, 1, 0.3, 1, true}})
    for (const double size : {1.0, 5.0})
      for (const auto statistic : {LengthStatistic::mean, LengthStatistic::largest}) {
        const int count = held(s, statistic, size, trials);
        const auto where = [&] { return std::string(s.name) + ", size " + std::to_string(size); };
        EXPECT_GE(count, 0.9 * trials) << where() << (statistic == LengthStatistic::mean ? ", mean" : ", largest");
        EXPECT_LE(count, 0.99 * trials) << where() << (statistic == LengthStatistic::mean ? ", mean" : ", largest");
      }
}

TEST(Lengths, WhatIsKnownBadlyDoesNotHideTheLargest) {
  constexpr double good = 0.16, bad = 0.7;
  LengthProblem p{.points = 2,
                  .dimension = 1,
                  .measured = {3, 2},
                  .noise_variance = {good * good, bad * bad},
                  .statistic = LengthStatistic::largest};
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal;
  for (int i = 0; i < 4000; ++i)
    for (const double deviation : {good, bad}) p.errors.push_back(static_cast<float>(deviation * normal(random)));
  const auto r = length_interval(p);
  // The first alone says that the largest is no less; the second, 1.4 deviations lower, adds little above.
  EXPECT_NEAR(r.interval.lower, 3 - 1.96 * good, 0.12);
  EXPECT_GT(r.interval.upper, 3 + 1.96 * good - 0.03);
  EXPECT_LT(r.interval.upper, 2 + 2.25 * bad);
}

// With both tails everywhere an interval that begins at 0 would hold a true 0 in 97.5 %.
TEST(Lengths, OfAPerfectDisplayAreHeldIn95Percent) {
  constexpr int trials = 1000;
  EXPECT_NEAR(held({"noise", 3, 2, 0, 1, false}, LengthStatistic::largest, 0, trials), 0.95 * trials, 0.018 * trials);
}

}  // namespace
}  // namespace provenit::evaluation
