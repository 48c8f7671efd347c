// What an instrument's capabilities say of the scatter of one reading, and what repeats say besides.
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

#include "noise_internal.h"

namespace provenit::evaluation {
namespace {

const instrument::Capabilities kMeter{.repeatability_relative = 0.001, .noise_floor_cdm2 = 0.0005, .shot_noise = 0.001};

TEST(PriorNoise, AddsShotNoiseByLightAndTime) {
  // sqrt((0.001 x 4)^2 + 0.001^2 x 4 / 0.25 + 0.0005^2) of Y; nothing of the shot term in a channel below 0.
  const auto prior = prior_noise({.X = -1, .Y = 4, .Z = 0}, Seconds{0.25}, kMeter);
  EXPECT_NEAR(prior.deviation[1], std::sqrt(16e-6 + 16e-6 + 0.25e-6), 1e-12);
  EXPECT_NEAR(prior.deviation[0], std::sqrt(1e-6 + 0.25e-6), 1e-12);
  EXPECT_NEAR(prior.deviation[2], 0.0005, 1e-12);
  EXPECT_NEAR(prior.relative[1], 0.004 / std::sqrt(32.25e-6), 1e-12);
  EXPECT_EQ(prior.relative[2], 0);
}

/// Pairs of readings at these lights, integrated for `t`: of the relative variance 0.8 is common to the channels, the
/// rest, shot noise and floor are each channel's own.
Scatter pairs(const std::vector<colour::AbsoluteXyz<>>& lights, int pairs_of_each, Seconds t = {1}) {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  Scatter out;
  for (const auto& light : lights)
    for (int i = 0; i < pairs_of_each; ++i) {
      std::array<colour::AbsoluteXyz<>, 2> read;
      for (auto& r : read) {
        const double common = 1 + std::sqrt(0.8) * 0.001 * normal(random);
        const auto channel = [&](double v) {
          return v * common +
                 std::hypot(std::sqrt(0.2) * 0.001 * v, 0.0005, 0.001 * std::sqrt(v / t.s)) * normal(random);
        };
        r = {.X = channel(light.X), .Y = channel(light.Y), .Z = channel(light.Z)};
      }
      add_repeats(out, read, t, kMeter);
    }
  return out;
}

TEST(CommonNoise, IsThatOfTheRelativePartWhateverTheLight) {
  const auto bright = pairs({{190, 200, 217}}, 400);
  EXPECT_NEAR(common_noise(bright).correlation[0][1], 0.8, 0.05);
  // Most of these are dark in one channel at least; the correlation of what they read is far lower.
  const auto mixed = pairs({{190, 200, 217}, {0.4, 0.3, 0.01}, {2, 1, 0.02}, {0.1, 0.2, 0.5}}, 400);
  EXPECT_NEAR(common_noise(mixed).correlation[0][1], 0.8, 0.05);
  EXPECT_NEAR(common_noise(mixed).correlation[1][2], 0.8, 0.05);
}

TEST(CommonNoise, IsNotSaidOfTooFewRepeats) {
  const auto three = pairs({{190, 200, 217}}, 3), five = pairs({{190, 200, 217}}, 5);
  EXPECT_EQ(common_noise(three).degrees_of_freedom, 0);
  EXPECT_EQ(common_noise(three).correlation[1][0], 0);
  EXPECT_NEAR(common_noise(five).degrees_of_freedom, 5, 1e-3);
  EXPECT_GT(common_noise(five).correlation[1][0], 0.3);
}

TEST(NoiseOf, CarriesWhatChannelsHaveInCommon) {
  const auto scatter = pairs({{190, 200, 217}}, 400);
  colour::Sources sources;
  const NoisePool pool(sources, scatter, common_noise(scatter));
  const auto at = [&](double cdm2) {
    const colour::AbsoluteXyz<> light{.X = 0.95 * cdm2, .Y = cdm2, .Z = 1.09 * cdm2};
    return noise_of(sources, "noise", pool, prior_noise(light, Seconds{1}, kMeter), 4);
  };
  const auto correlation = [&](const colour::Uncertain& a, const colour::Uncertain& b) {
    return covariance(a, b, sources) / std::sqrt(variance(a, sources) * variance(b, sources));
  };
  const auto bright = at(200), dark = at(0.01);
  EXPECT_NEAR(std::sqrt(variance(bright.Y, sources)), 0.2 / 2, 0.01);  // of a mean of four
  EXPECT_NEAR(std::sqrt(variance(bright.Z, sources)), 0.218 / 2, 0.011);
  EXPECT_NEAR(correlation(bright.X, bright.Z), 0.8, 0.05);
  EXPECT_NEAR(correlation(dark.X, dark.Y), 0, 0.01);
}

// The steps that show what is common are themselves hidden in part by counted light. At 100 cd/m2 in 0.1 s its variance
// is 0.1 of the relative one: the correlation read is 0.8 / 1.1, and it is that of any other reading of such light.
TEST(NoiseOf, CountsCountedLightOnce) {
  const Seconds t{0.1};
  const auto scatter = pairs({{100, 100, 100}}, 20000, t);
  colour::Sources sources;
  const NoisePool pool(sources, scatter, common_noise(scatter));
  // Variance of ln X - ln Y, in 1e-6: twice what is each channel's own.
  const auto apart = [&](double cdm2, Seconds integration) {
    const colour::AbsoluteXyz<> light{.X = cdm2, .Y = cdm2, .Z = cdm2};
    const auto noise = noise_of(sources, "noise", pool, prior_noise(light, integration, kMeter), 1);
    return variance((noise.X - noise.Y) / cdm2, sources) * 1e6;
  };
  EXPECT_NEAR(apart(100, t), 2 * (0.2 + 0.1), 0.03);
  EXPECT_NEAR(apart(20, t), 2 * (0.2 + 0.5), 0.07);
  // Of light that is nearly all relative a quarter is taken as each channel's own, where it is 0.2 here.
  EXPECT_NEAR(apart(100, Seconds{100}), 2 * (1 - 0.8 / 1.1) * 0.25 / (1 - 0.75 / 1.1), 0.03);
}

TEST(CommonNoise, IsShownByLightThatIsPartlyCounted) {
  // At 20 cd/m2 in 0.1 s counted light adds half of the relative variance, and nothing brighter was read.
  const auto common = common_noise(pairs({{20, 20, 20}}, 4000, Seconds{0.1}));
  EXPECT_NEAR(common.correlation[0][1], 0.8 / 1.5, 0.04);
  EXPECT_NEAR(common.part[0][1], 1 / 1.5, 0.01);
  // Dark light shows nothing.
  EXPECT_EQ(common_noise(pairs({{0.4, 0.4, 0.4}}, 400, Seconds{0.1})).degrees_of_freedom, 0);
}

/// 40 steps of 200 cd/m2, each read in three passes and divided by its pass's reference of the same light: 0.8 of the
/// variance is common to the channels of a reading. `same_in_all`: divided by the reference's Y alone.
Scatter passes(std::mt19937_64& random, bool same_in_all) {
  constexpr int steps = 40, passes = 3;
  std::normal_distribution<double> normal;
  const auto read = [&] {
    const double common = std::sqrt(0.8) * normal(random);
    Vector3 out{};
    for (double& v : out) v = 200 * (1 + 0.001 * (common + std::sqrt(0.2) * normal(random)));
    return out;
  };
  std::array<Vector3, passes> references{};
  for (auto& r : references) r = read();
  const auto prior = prior_noise({.X = 200, .Y = 200, .Z = 200}, Seconds{1}, kMeter);
  ReferenceNoise noise{.spread = passes - 1, .relative = {}, .same_in_all = same_in_all};
  noise.relative.fill(prior.deviation[1] / 200);
  Scatter out;
  for (int i = 0; i < steps; ++i) {
    std::vector<colour::AbsoluteXyz<>> repeats;
    for (const auto& reference : references) {
      const auto r = read();
      const auto ratio = [&](int k) { return 200 * r[k] / reference[same_in_all ? 1 : k]; };
      repeats.push_back({.X = ratio(0), .Y = ratio(1), .Z = ratio(2)});
    }
    // The form is 40 times that of one step, whose trace and trace of the square are both passes - 1.
    const double share = add_repeats(out, repeats, Seconds{1}, kMeter, noise);
    out.reference_trace += share * (passes - 1);
    out.reference_trace_of_square = std::pow(share * steps, 2) * (passes - 1);
  }
  return out;
}

TEST(Scatter, LeavesOutTheNoiseOfTheReferences) {
  for (const bool same_in_all : {false, true}) {
    std::mt19937_64 random(3);
    constexpr int sets = 5000;
    double sum = 0, squares = 0, correlation = 0, degrees = 0;
    for (int i = 0; i < sets; ++i) {
      const auto scatter = passes(random, same_in_all);
      const double ratio = scatter.squares[1] / scatter.expected[1];
      sum += ratio / sets;
      squares += ratio * ratio / sets;
      correlation += common_noise(scatter).correlation[0][1] / sets;
      degrees = effective_degrees_of_freedom(scatter);
    }
    EXPECT_NEAR(sum, 1, 0.05) << same_in_all;  // 2 without what is expected of the references
    EXPECT_NEAR(correlation, 0.8, 0.04) << same_in_all;
    // Of a chi-square over its degrees of freedom nu: variance 2 / nu. 120 readings, but 7.4.
    EXPECT_NEAR(degrees, 7.4, 0.1);
    EXPECT_NEAR(2 / (squares - sum * sum), degrees, 0.15 * degrees) << same_in_all;
  }
}

TEST(CommonNoise, IsNeverMoreThanIsInProportion) {
  CommonNoise common{.degrees_of_freedom = 5};
  for (auto& row : common.correlation) row.fill(0.99);
  for (auto& row : common.part) row.fill(0.9);
  const auto at = [&](double relative) {
    PriorNoise prior;
    prior.relative.fill(std::sqrt(relative));
    return common.at(prior, 0, 1);
  };
  EXPECT_NEAR(at(0.9), 0.9, 1e-12);
  EXPECT_NEAR(at(0.45), 0.45, 1e-12);
  EXPECT_NEAR(at(0.95), 0.95, 1e-12);
  EXPECT_NEAR(at(1), 1 - 0.01 * 0.25 / (1 - 0.75 * 0.9), 1e-12);
}

// Where each channel scatters by itself, brighter light has no more in common than was shown.
TEST(CommonNoise, OfChannelsThatScatterEachByItselfStaysNone) {
  CommonNoise common{.degrees_of_freedom = 5};
  for (auto& row : common.part) row.fill(0.8);
  PriorNoise prior;
  prior.relative.fill(1);
  EXPECT_NEAR(common.at(prior, 0, 1), 0, 1e-12);
}

}  // namespace
}  // namespace provenit::evaluation
