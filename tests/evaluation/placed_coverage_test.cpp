// The 95 % intervals of the methods that move the meter, wait or switch the display hold what is true of simulated
// displays: the small, seeded form of benchmarks/coverage_readings.cpp.
#include <gtest/gtest.h>

#include "placed_checks.h"

namespace provenit::bench {
namespace {

constexpr int kLoans = 40;
/// Of 40 intervals that hold the truth with 95 %, fewer than 34 do so once in 400 cases.
constexpr int kFewest = 34;

class PlacedCoverage : public testing::TestWithParam<Scenario> {};

TEST_P(PlacedCoverage, IntervalsHoldTheTruth) {
  auto scenario = GetParam();
  scenario.options.draws = 300;
  const auto held = held_in(scenario, 7001, kLoans);
  for (std::size_t k = 0; k < held.size(); ++k) EXPECT_GE(held[k], kFewest) << scenario.checks[k].figure;
}

std::string name_of_scenario(const testing::TestParamInfo<Scenario>& tested) {
  return tested.param.procedure + "_" + std::to_string(tested.index);
}
INSTANTIATE_TEST_SUITE_P(Methods, PlacedCoverage, testing::ValuesIn(placed_scenarios()), name_of_scenario);

}  // namespace

void PrintTo(const Scenario& scenario, std::ostream* out) {
  *out << scenario.procedure;
}

}  // namespace provenit::bench
