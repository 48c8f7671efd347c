// The planner's solver against brute force on small random instances.
#include <gtest/gtest.h>

#include <random>

#include "provenit/procedure/planner.h"

namespace provenit::procedure {
namespace {

double value_of(const ChoiceProblem& problem, const std::vector<int>& level) {
  double value = 0;
  for (const auto& goal : problem.goals) {
    int least = 1000;
    for (int job : goal.jobs) least = std::min(least, level[job]);
    value += goal.weight * goal.probability[least];
  }
  return value;
}

double cost_of(const ChoiceProblem& problem, const std::vector<int>& level) {
  double cost = 0;
  for (std::size_t job = 0; job < level.size(); ++job) cost += problem.jobs[job].cost[level[job]];
  return cost;
}

bool allowed(const ChoiceProblem& problem, const std::vector<int>& level) {
  if (cost_of(problem, level) > problem.budget + 1e-12) return false;
  if (problem.entry_job < 0 || level[problem.entry_job] > 0) return true;
  return std::ranges::all_of(level, [](int l) { return l == 0; });
}

/// Every combination, in lexicographic order; better by value, then by cost, then the first met.
Choice brute_force(const ChoiceProblem& problem) {
  const int levels = static_cast<int>(problem.jobs.front().cost.size());
  std::vector<int> level(problem.jobs.size(), 0);
  Choice best{.level = level};
  for (;;) {
    if (allowed(problem, level)) {
      const double value = value_of(problem, level), cost = cost_of(problem, level);
      if (value > best.value + 1e-12 || (value > best.value - 1e-12 && cost < best.cost - 1e-12))
        best = {level, value, cost};
    }
    std::size_t at = level.size();
    while (at > 0 && ++level[at - 1] == levels) level[--at] = 0;
    if (at == 0) return best;
  }
}

/// Costs and probabilities are small whole multiples, so that ties happen often.
ChoiceProblem random_problem(std::mt19937_64& random) {
  const auto upto = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n + 1)); };
  ChoiceProblem problem;
  const int jobs = 1 + upto(4), levels = 2 + upto(2);
  double total = 0;
  for (int i = 0; i < jobs; ++i) {
    ChoiceJob job{.cost = {0}};
    for (int l = 1; l < levels; ++l) job.cost.push_back(job.cost.back() + upto(6));
    total += job.cost.back();
    problem.jobs.push_back(job);
  }
  for (int i = upto(7); i >= 0; --i) {
    ChoiceGoal goal{.weight = 0.5 * upto(6), .jobs = {upto(jobs - 1)}, .probability = {0}};
    if (upto(2) == 0) {
      const int other = upto(jobs - 1);
      if (other != goal.jobs[0]) goal.jobs.push_back(other);
    }
    for (int l = 1; l < levels; ++l)
      goal.probability.push_back(std::min(1.0, goal.probability.back() + 0.125 * upto(4)));
    problem.goals.push_back(goal);
  }
  problem.budget = total * upto(10) / 10;
  problem.entry_job = upto(2) == 0 ? upto(jobs - 1) : -1;
  return problem;
}

TEST(SolvePlan, AgreesWithBruteForce) {
  std::mt19937_64 random(2100);
  int nothing = 0, everything = 0;
  for (int i = 0; i < 4000; ++i) {
    const auto problem = random_problem(random);
    const auto expected = brute_force(problem);
    const auto got = solve_plan(problem);
    ASSERT_NEAR(got.value, expected.value, 1e-9) << i;
    ASSERT_NEAR(got.cost, expected.cost, 1e-9) << i;
    ASSERT_EQ(got.level, expected.level) << i;
    nothing += expected.value == 0;
    everything += expected.cost > 0;
  }
  EXPECT_GT(everything, 2000);
  EXPECT_GT(nothing, 100) << "instances must vary";
}

TEST(SolvePlan, SharesTheEntryJobsCost) {
  const ChoiceProblem problem{.jobs = {{{0, 10}}, {{0, 4}}, {{0, 4}}},
                              .goals = {{.jobs = {1}, .probability = {0, 1}}, {.jobs = {2}, .probability = {0, 1}}},
                              .budget = 18,
                              .entry_job = 0};
  EXPECT_EQ(solve_plan(problem).level, (std::vector<int>{1, 1, 1}));
  ChoiceProblem less = problem;
  less.budget = 13.9;
  EXPECT_EQ(solve_plan(less).level, (std::vector<int>{0, 0, 0}));
}

TEST(SolvePlan, TheEmptyProblemHasAnEmptyChoice) {
  EXPECT_TRUE(solve_plan({}).level.empty());
  EXPECT_EQ(solve_plan({.jobs = {{{0, 1}}}, .goals = {}, .budget = 5}).level, std::vector<int>{0});
}

TEST(SolvePlan, SixteenJobsAreNoTrouble) {
  std::mt19937_64 random(5);
  ChoiceProblem problem;
  std::uniform_real_distribution<double> u(0, 1);
  for (int i = 0; i < 16; ++i) {
    ChoiceJob job{.cost = {0}};
    for (int l = 1; l < 6; ++l) job.cost.push_back(job.cost.back() + 60 * u(random));
    problem.jobs.push_back(job);
  }
  for (int i = 0; i < 40; ++i) {
    ChoiceGoal goal{.weight = u(random), .jobs = {static_cast<int>(random() % 16)}, .probability = {0}};
    if (i % 4 == 0) goal.jobs.push_back((goal.jobs[0] + 1) % 16);
    for (int l = 1; l < 6; ++l) goal.probability.push_back(goal.probability.back() + 0.2 * u(random));
    problem.goals.push_back(goal);
  }
  problem.budget = 900;
  const auto choice = solve_plan(problem);
  EXPECT_LE(choice.cost, 900);
  EXPECT_NEAR(choice.value, value_of(problem, choice.level), 1e-9);
}

}  // namespace
}  // namespace provenit::procedure
