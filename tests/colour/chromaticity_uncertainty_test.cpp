#include "provenit/colour/chromaticity_uncertainty.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "provenit/colour/spaces.h"

namespace provenit::colour {
namespace {

TEST(ChromaticityUncertainty, ACommonScaleErrorCancels) {
  const AbsoluteXyz<> c{95, 100, 108};
  const auto u = xy_uncertainty(c, covariance_of({0.95, 1.0, 1.08}, 1, 1, 1));
  EXPECT_NEAR(u.u_first, 0, 1e-9);
  EXPECT_NEAR(u.u_second, 0, 1e-9);
  EXPECT_GT(xy_uncertainty(c, covariance_of({0.95, 1.0, 1.08}, 0, 0, 0)).u_first, 2e-3);
}

// JCGM 101: the same by random numbers, with correlation built from a shared part.
TEST(ChromaticityUncertainty, AgreesWithMonteCarlo) {
  const AbsoluteXyz<> c{40, 20, 5};
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  double sum[5] = {0, 0, 0, 0, 0};
  constexpr int draws = 200000;
  for (int i = 0; i < draws; ++i) {
    const double common = normal(random);
    const auto part = [&](double value) { return value * (1 + 0.004 * common + 0.003 * normal(random)); };
    const auto uv = uv_prime_from_xyz(AbsoluteXyz<>{part(40), part(20), part(5)});
    sum[0] += uv.u;
    sum[1] += uv.v;
    sum[2] += uv.u * uv.u;
    sum[3] += uv.v * uv.v;
    sum[4] += uv.u * uv.v;
  }
  const double u = sum[0] / draws, v = sum[1] / draws;
  const double su = std::sqrt(sum[2] / draws - u * u), sv = std::sqrt(sum[3] / draws - v * v);
  const double r = 16.0 / 25;
  const auto linear = uv_prime_uncertainty(c, covariance_of({0.2, 0.1, 0.025}, r, r, r));
  EXPECT_NEAR(linear.u_first / su, 1, 0.01);
  EXPECT_NEAR(linear.u_second / sv, 1, 0.01);
  EXPECT_NEAR(linear.correlation, (sum[4] / draws - u * v) / (su * sv), 0.01);
}

TEST(ChromaticityUncertainty, NoUncertaintyGivesNone) {
  const auto u = xy_uncertainty({95, 100, 108}, {});
  EXPECT_EQ(u.u_first, 0);
  EXPECT_EQ(u.correlation, 0);
}

}  // namespace
}  // namespace provenit::colour
