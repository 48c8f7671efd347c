#include <gtest/gtest.h>

#include <limits>

#include "provenit/instrument/instrument.h"

namespace provenit::instrument {
namespace {

TEST(IntegrationModel, FollowsThePowerLawBetweenItsLimits) {
  const IntegrationModel model{
      .overhead = {0.5}, .minimum = {0.1}, .maximum = {20}, .reference = {1}, .reference_cdm2 = 1, .exponent = 0.5};
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 1}).s, 1.5);
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 4}).s, 1.0);
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 0.01}).s, 10.5);
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 100}).s, 0.6);      // just at the minimum
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 10000}).s, 0.6);    // held there
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 0.0001}).s, 20.5);  // held at the maximum
}

TEST(IntegrationModel, NoLightOrNoNumberTakesTheLongest) {
  const IntegrationModel model;
  for (const double dark : {0.0, -0.001, std::numeric_limits<double>::quiet_NaN()})
    EXPECT_DOUBLE_EQ(model.expected({.cdm2 = dark}).s, (model.overhead + model.maximum).s);
}

TEST(IntegrationModel, AFixedTimeHasExponentZero) {
  const IntegrationModel model{.overhead = {0.2}, .reference = {3}, .exponent = 0};
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 0.01}).s, 3.2);
  EXPECT_DOUBLE_EQ(model.expected({.cdm2 = 1000}).s, 3.2);
}

}  // namespace
}  // namespace provenit::instrument
