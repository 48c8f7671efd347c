#include "provenit/colour/monte_carlo.h"

#include <gtest/gtest.h>

#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <functional>
#include <vector>

namespace provenit::colour {
namespace {

TEST(Philox, MatchesItsPublishedAnswers) {
  // Known answers that come with the generator's reference implementation (from memory).
  const auto expect = [](const Bits128& c, std::uint64_t key, const Bits128& answer) {
    const Bits128 got = philox4x32(c, key);
    for (int i = 0; i < 4; ++i) EXPECT_EQ(got.word[i], answer.word[i]) << i;
  };
  expect({{0, 0, 0, 0}}, 0, {{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}});
  expect({{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff}}, 0xffffffffffffffff,
         {{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}});
  expect({{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}}, 0x299f31d0a4093822,
         {{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}});
}

TEST(NormalQuantile, AgreesWithBoost) {
  const boost::math::normal n;
  for (double p : {1e-300, 1e-20, 1e-9, 1e-3, 0.02, 0.074, 0.076, 0.3, 0.5, 0.7, 0.924, 0.926, 0.99, 1 - 1e-12})
    EXPECT_NEAR(normal_quantile(p), boost::math::quantile(n, p), 1e-14 * (1 + std::fabs(normal_quantile(p)))) << p;
}

TEST(Draws, DependOnSeedDrawAndSourceAlone) {
  Sources sources;
  for (int i = 0; i < 7; ++i) sources.add({.name = "s", .standard_uncertainty = 1});
  const SourceId pooled = sources.add({.name = "t", .standard_uncertainty = 1, .pool = sources.add_pool(5)});
  std::vector<double> all(sources.size()), some(sources.size(), -7.0);
  const std::vector<SourceId> wanted{pooled, 4};
  ErrorSampler(sources, 9).draw(123, all);
  ErrorSampler(sources, 9, wanted).draw(123, some);
  EXPECT_EQ(some[4], all[4]);
  EXPECT_EQ(some[pooled], all[pooled]);
  EXPECT_EQ(some[0], -7.0);
  std::vector<double> other(sources.size());
  ErrorSampler(sources, 10).draw(123, other);
  EXPECT_NE(other[4], all[4]);
  ErrorSampler(sources, 9).draw(124, other);
  EXPECT_NE(other[4], all[4]);
}

MonteCarloSummary run(const Sources& sources, const std::function<double(std::span<const double>)>& f,
                      int draws = 100000) {
  auto sample = propagate(sources, [&](std::span<const double> e, std::span<double> out) { out[0] = f(e); }, 1,
                          {.seed = 1, .draws = draws});
  return summarise(std::move(sample[0]));
}

TEST(Distributions, HaveTheirMoments) {
  Sources sources;
  const SourceId rectangular =
      sources.add({.name = "r", .standard_uncertainty = 2, .distribution = Distribution::rectangular});
  const SourceId triangular =
      sources.add({.name = "t", .standard_uncertainty = 3, .distribution = Distribution::triangular});
  const SourceId student = sources.add({.name = "s", .standard_uncertainty = 1, .pool = sources.add_pool(6)});
  const SourceId cauchy_like = sources.add({.name = "s1", .standard_uncertainty = 1, .pool = sources.add_pool(1)});
  const auto r = run(sources, [&](auto e) { return e[rectangular]; });
  EXPECT_NEAR(r.standard_uncertainty, 2, 0.02);
  EXPECT_NEAR(r.symmetric.upper, 0.95 * 2 * std::sqrt(3.0), 0.02);
  const auto t = run(sources, [&](auto e) { return e[triangular]; });
  EXPECT_NEAR(t.standard_uncertainty, 3, 0.03);
  EXPECT_NEAR(t.symmetric.upper, 3 * std::sqrt(6.0) * (1 - std::sqrt(0.05)), 0.05);
  // Scaled t: variance nu / (nu - 2), 95 % at student_factor.
  const auto s = run(sources, [&](auto e) { return e[student]; });
  EXPECT_NEAR(s.standard_uncertainty, std::sqrt(6.0 / 4), 0.02);
  EXPECT_NEAR(s.symmetric.upper, student_factor(6), 0.03);
  EXPECT_NEAR(s.symmetric.lower, -student_factor(6), 0.03);
  const auto c = run(sources, [&](auto e) { return e[cauchy_like]; });
  EXPECT_NEAR(c.symmetric.upper / student_factor(1), 1, 0.05);
}

TEST(Distributions, CorrelatedSourcesHaveTheirCorrelation) {
  Sources sources;
  const std::array<Source, 3> three{{{.name = "a", .standard_uncertainty = 1},
                                     {.name = "b", .standard_uncertainty = 2},
                                     {.name = "c", .standard_uncertainty = 3}}};
  const std::array<double, 9> r{1, 0.9, 0.5, 0.9, 1, 0.6, 0.5, 0.6, 1};
  const auto first = sources.add_correlated(three, r);
  ASSERT_TRUE(first);
  double sums[3][3] = {};
  std::vector<double> e(3);
  const ErrorSampler sampler(sources, 3);
  const int n = 100000;
  for (int i = 0; i < n; ++i) {
    sampler.draw(i, e);
    for (int j = 0; j < 3; ++j)
      for (int k = 0; k < 3; ++k) sums[j][k] += e[j] * e[k] / n;
  }
  for (int j = 0; j < 3; ++j)
    for (int k = 0; k < 3; ++k) EXPECT_NEAR(sums[j][k], r[3 * j + k] * (j + 1) * (k + 1), 0.02 * (j + 1) * (k + 1));
}

// JCGM 101:2008, clause 9. The models and printed figures of 9.2.2, 9.2.3, 9.2.4, 9.3 and 9.4 are from memory; the
// analytic values beside them do not need the document.
TEST(Jcgm101, AdditiveModelOfFourNormals) {
  Sources sources;
  Uncertain y = 0;
  for (int i = 0; i < 4; ++i) y += Uncertain(0, sources.add({.name = "x", .standard_uncertainty = 1}));
  EXPECT_DOUBLE_EQ(standard_uncertainty(y, sources), 2);
  const auto r = run(sources, [&](auto e) { return y.at(e); });
  EXPECT_NEAR(r.standard_uncertainty, 2.00, 0.01);
  EXPECT_NEAR(r.symmetric.lower, -3.92, 0.04);
  EXPECT_NEAR(r.symmetric.upper, 3.92, 0.04);
  // The ends of the shortest interval wander along the flat top of a symmetric density; its width does not.
  EXPECT_NEAR(r.shortest.width(), 2 * 3.92, 0.05);
  EXPECT_LE(r.shortest.width(), r.symmetric.width());
}

TEST(Jcgm101, AdditiveModelOfFourRectangulars) {
  Sources sources;
  Uncertain y = 0;
  for (int i = 0; i < 4; ++i)
    y += Uncertain(0, sources.add({.name = "x", .standard_uncertainty = 1, .distribution = Distribution::rectangular}));
  const auto r = run(
      sources, [&](auto e) { return y.at(e); }, 500000);
  EXPECT_NEAR(r.standard_uncertainty, 2.00, 0.005);
  // Analytic 95 % point (9.2.3.3): 2 sqrt(3) [2 - (3/5)^(1/4)] = 3.88, where linear propagation gives 3.92.
  EXPECT_NEAR(2 * std::sqrt(3.0) * (2 - std::pow(0.6, 0.25)), 3.88, 0.005);
  EXPECT_NEAR(r.symmetric.upper, 3.88, 0.015);
  EXPECT_NEAR(linear_result(y, sources).interval.upper, 3.92, 0.005);
}

TEST(Jcgm101, AdditiveModelWithOneDominantRectangular) {
  Sources sources;
  Uncertain y = 0;
  for (double u : {1.0, 1.0, 1.0, 10.0})
    y += Uncertain(0, sources.add({.name = "x", .standard_uncertainty = u, .distribution = Distribution::rectangular}));
  const auto r = run(
      sources, [&](auto e) { return y.at(e); }, 500000);
  EXPECT_NEAR(r.standard_uncertainty, std::sqrt(103.0), 0.03);  // printed as 10.1
  EXPECT_NEAR(r.symmetric.upper, 17.0, 0.05);
  EXPECT_NEAR(linear_result(y, sources).interval.upper, 19.9, 0.05);
}

TEST(Jcgm101, MassCalibration) {
  Sources sources;
  const auto normal = [&](double u) { return sources.add({.name = "m", .standard_uncertainty = u}); };
  const auto rectangular = [&](double half) {
    return sources.add({.name = "rho",
                        .standard_uncertainty = rectangular_uncertainty(half),
                        .distribution = Distribution::rectangular});
  };
  const SourceId m_rc = normal(0.050), dm_rc = normal(0.020);                                    // mg
  const SourceId rho_a = rectangular(0.10), rho_w = rectangular(1000), rho_r = rectangular(50);  // kg/m3
  const auto difference = [](auto m, auto dm, auto a, auto w, auto r) {
    return (m + dm) * (1.0 + (a - 1.2) * (1.0 / w - 1.0 / r)) - 100000.0;
  };
  const Uncertain linear = difference(Uncertain(100000.0, m_rc), Uncertain(1.234, dm_rc), Uncertain(1.20, rho_a),
                                      Uncertain(8000.0, rho_w), Uncertain(8000.0, rho_r));
  // First order: 1.2340, 0.0539, [1.1285, 1.3395].
  EXPECT_NEAR(linear.value(), 1.2340, 5e-5);
  EXPECT_NEAR(standard_uncertainty(linear, sources), 0.0539, 5e-5);
  EXPECT_NEAR(linear_result(linear, sources).interval.lower, 1.1285, 1e-4);
  // Monte Carlo: 1.2341, 0.0754, [1.0834, 1.3825]: first order is no use here, and the two methods must differ.
  const auto r = run(
      sources,
      [&](auto e) {
        return difference(100000.0 + e[m_rc], 1.234 + e[dm_rc], 1.20 + e[rho_a], 8000.0 + e[rho_w], 8000.0 + e[rho_r]);
      },
      400000);
  EXPECT_NEAR(r.mean, 1.2341, 5e-4);
  EXPECT_NEAR(r.standard_uncertainty, 0.0754, 5e-4);
  EXPECT_NEAR(r.shortest.lower, 1.0834, 3e-3);
  EXPECT_NEAR(r.shortest.upper, 1.3825, 3e-3);
}

TEST(Jcgm101, ComparisonLossNearZero) {
  // Y = X1^2 + X2^2, x2 = 0, u = 0.005 each, uncorrelated. Units of 1e-6.
  struct Row {
    double x1, linear_u, mean, u, lower, upper;
  };
  for (const Row& row :
       {Row{0, 0, 50, 50, 0, 150}, {0.010, 100, 150, 112, 0, 367}, {0.050, 500, 2551, 502, 1590, 3543}}) {
    Sources sources;
    const SourceId a = sources.add({.name = "x1", .standard_uncertainty = 0.005});
    const SourceId b = sources.add({.name = "x2", .standard_uncertainty = 0.005});
    const Uncertain x1(row.x1, a), x2(0, b);
    EXPECT_NEAR(standard_uncertainty(x1 * x1 + x2 * x2, sources) * 1e6, row.linear_u, 0.5);
    const auto r = run(
        sources, [&](auto e) { return 1e6 * (std::pow(row.x1 + e[a], 2) + std::pow(e[b], 2)); }, 500000);
    EXPECT_NEAR(r.mean, row.mean, 1 + 0.002 * row.mean) << row.x1;
    EXPECT_NEAR(r.standard_uncertainty, row.u, 1.5) << row.x1;
    EXPECT_NEAR(r.shortest.lower, row.lower, 5 + 0.02 * row.lower) << row.x1;
    EXPECT_NEAR(r.shortest.upper, row.upper, 4 + 0.01 * row.upper) << row.x1;
  }
  // At x1 = 0 the output is exponential with mean 50: its shortest 95 % interval is [0, 50 ln 20] = [0, 149.8].
  EXPECT_NEAR(50 * std::log(20.0), 149.8, 0.05);
}

TEST(Adaptive, StopsAtItsLimitAndSaysSo) {
  Sources sources;
  const SourceId a = sources.add({.name = "a", .standard_uncertainty = 1});
  const Model model = [&](std::span<const double> e, std::span<double> out) {
    out[0] = e[a];
    out[1] = 5;
  };
  const auto limited =
      propagate_adaptively(sources, model, 2, {.seed = 1, .significant_digits = 4, .maximum_draws = 30000});
  EXPECT_FALSE(limited[0].converged);
  EXPECT_EQ(limited[0].summary.draws, 30000);
  const auto free = propagate_adaptively(sources, model, 2, {.seed = 1, .significant_digits = 1});
  EXPECT_DOUBLE_EQ(free[0].tolerance, 0.5) << "u = 0.99... to one digit is 1 x 10^0";
  EXPECT_TRUE(free[0].converged);
  EXPECT_TRUE(free[1].converged) << "a constant settles at once";
  EXPECT_EQ(free[1].summary.standard_uncertainty, 0);
}

}  // namespace
}  // namespace provenit::colour
