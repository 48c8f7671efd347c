#include "provenit/procedure/decision.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace provenit::procedure {
namespace {

constexpr double kFactor = 1.959963984540054;  // 97.5 % quantile of the normal distribution (JCGM 100:2008, table G.1)

/// Share of drawn findings whose 95 % interval holds no limit.
double drawn(std::optional<double> lower, std::optional<double> upper, const Belief& belief, double u) {
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal(0, 1);
  int decided = 0;
  constexpr int draws = 200000;
  for (int i = 0; i < draws; ++i) {
    const double value = belief.mean + belief.spread * normal(random) + u * normal(random);
    const auto holds = [&](std::optional<double> limit) { return limit && std::abs(value - *limit) <= kFactor * u; };
    decided += !holds(lower) && !holds(upper);
  }
  return static_cast<double>(decided) / draws;
}

TEST(DecisionProbability, AgreesWithDrawnFindings) {
  for (double u : {0.5, 2.0, 8.0})
    for (double mean : {95.0, 100.0, 120.0})
      for (auto [lower, upper] :
           {std::pair<std::optional<double>, std::optional<double>>{100, {}}, {{}, 100}, {90, 110}, {99, 101}}) {
        const Belief belief{.mean = mean, .spread = 10};
        EXPECT_NEAR(decision_probability(lower, upper, belief, u), drawn(lower, upper, belief, u), 0.005)
            << u << " " << mean;
      }
}

TEST(DecisionProbability, HasTheRightEnds) {
  EXPECT_EQ(decision_probability(100, {}, {.mean = 100, .spread = 10}, 0), 1);
  EXPECT_NEAR(decision_probability(100, {}, {.mean = 200, .spread = 1}, 1), 1, 1e-9);
  // Nothing is known to lie off the limit: only the noise itself can leave it, by the 5 % that an interval misses.
  EXPECT_NEAR(decision_probability(100, {}, {.mean = 100, .spread = 0}, 1), 0.05, 1e-9);
}

TEST(ExpectedUncertainty, RepeatsLowerOnlyTheirOwnPart) {
  const ExpectedUncertainty u{.common = 3, .single = 4};
  EXPECT_DOUBLE_EQ(u.after(1), 5);
  EXPECT_DOUBLE_EQ(u.after(4), std::hypot(3, 2));
  EXPECT_NEAR(u.after(1000000), 3, 1e-4);
}

TEST(ExpectedUncertainty, KnowsWhatTheCertificateSays) {
  const instrument::Certificate certificate{.luminance_expanded_relative = 0.02, .coverage_factor = 2};
  const auto peak = expected_uncertainty(*find_quantity("peak_luminance"), 1000, certificate, {}, 1000);
  EXPECT_DOUBLE_EQ(peak.common, 10);  // 1 % of 1000
  const auto loading = expected_uncertainty(*find_quantity("loading"), 50, certificate, {}, 1000);
  EXPECT_EQ(loading.common, 0) << "the scale cancels in a ratio";
}

TEST(ExpectedUncertainty, ContrastHangsOnTheMetersFloor) {
  const auto at = [](double floor_cdm2) {
    return expected_uncertainty(*find_quantity("sequential_contrast"), 200000, {}, {.noise_floor_cdm2 = floor_cdm2},
                                1000)
        .single;
  };
  // Black is 0.005 cd/m2 there: a floor of 0.0005 is 10 % of it.
  EXPECT_NEAR(at(0.0005), 20000, 100);
  EXPECT_GT(at(0.002), 3 * at(0.0005));
}

TEST(ExpectedUncertainty, EveryQuantityOfTheCatalogueHasOne) {
  for (const auto& quantity : catalogue()) {
    const store::QuestionRecord question{.lower = 10.0};
    EXPECT_GT(belief_from_limit(quantity, question).spread, 0) << quantity.key;
    const auto u = expected_uncertainty(quantity, 10, {}, {}, 1000);
    EXPECT_GT(u.after(1), 0) << quantity.key;
    EXPECT_LT(u.after(1), 1e3 * (1 + belief_from_limit(quantity, question).spread)) << quantity.key;
  }
}

TEST(IsDecided, MeansThatTheIntervalHoldsNoLimit) {
  const store::QuestionRecord at_least{.lower = 100.0};
  EXPECT_FALSE(is_decided(at_least, {.lower95 = 99, .upper95 = 101}));
  EXPECT_TRUE(is_decided(at_least, {.lower95 = 100.5, .upper95 = 101}));
  EXPECT_TRUE(is_decided(at_least, {.lower95 = 90, .upper95 = 99}));
  EXPECT_FALSE(is_decided({}, {.lower95 = 90, .upper95 = 99})) << "without a limit there is nothing to decide";
  const store::QuestionRecord within{.lower = 90.0, .upper = 110.0};
  EXPECT_TRUE(is_decided(within, {.lower95 = 95, .upper95 = 105}));
  EXPECT_FALSE(is_decided(within, {.lower95 = 105, .upper95 = 115}));
}

}  // namespace
}  // namespace provenit::procedure
