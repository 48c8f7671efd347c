// What an instrument's capabilities say of the scatter of one reading.
#include <gtest/gtest.h>

#include <cmath>

#include "noise_internal.h"

namespace provenit::evaluation {
namespace {

TEST(PriorDeviation, AddsShotNoiseByLightAndTime) {
  const instrument::Capabilities meter{
      .repeatability_relative = 0.001, .noise_floor_cdm2 = 0.0005, .shot_noise = 0.001};
  // sqrt((0.001 x 4)^2 + 0.001^2 x 4 / 0.25 + 0.0005^2) of Y; nothing of the shot term in a channel below 0.
  const auto u = prior_deviation({.X = -1, .Y = 4, .Z = 0}, Seconds{0.25}, meter);
  EXPECT_NEAR(u[1], std::sqrt(16e-6 + 16e-6 + 0.25e-6), 1e-12);
  EXPECT_NEAR(u[0], std::sqrt(1e-6 + 0.25e-6), 1e-12);
  EXPECT_NEAR(u[2], 0.0005, 1e-12);
}

}  // namespace
}  // namespace provenit::evaluation
