// Exact choice of levels under a budget: depth-first branch and bound. The bound at a node lets every goal that still
// waits for an undecided job be limited by the last of those jobs alone, and fills the rest of the budget along the
// concave hulls of those jobs (the linear relaxation of the multiple-choice knapsack); it is never below the best leaf.
#include <algorithm>
#include <numeric>

#include "provenit/procedure/planner.h"

namespace provenit::procedure {
namespace {

constexpr double kEqual = 1e-12;
constexpr int kUndecided = -1;

struct Upgrade {
  double cost, value;
};

/// Steps along the concave hull of (cost, value), steepest first; the free ones (cost 0) come first of all.
void add_hull(const std::vector<double>& cost, const std::vector<double>& value, std::vector<Upgrade>& upgrades) {
  std::size_t at = 0;
  while (at + 1 < cost.size()) {
    std::size_t best = at;
    double best_slope = 0;
    for (std::size_t next = at + 1; next < cost.size(); ++next) {
      const double gain = value[next] - value[at];
      if (gain <= 0) continue;
      const double slope = gain / std::max(cost[next] - cost[at], 1e-300);
      if (slope >= best_slope) best = next, best_slope = slope;
    }
    if (best == at) return;
    upgrades.push_back({cost[best] - cost[at], value[best] - value[at]});
    at = best;
  }
}

double fill(std::vector<Upgrade>& upgrades, double budget) {
  std::ranges::sort(upgrades, [](const Upgrade& a, const Upgrade& b) { return a.value * b.cost > b.value * a.cost; });
  double value = 0;
  for (const Upgrade& upgrade : upgrades) {
    if (upgrade.cost <= budget) {
      value += upgrade.value;
      budget -= upgrade.cost;
    } else {
      return value + upgrade.value * (budget / upgrade.cost);
    }
  }
  return value;
}

class Search {
 public:
  explicit Search(const ChoiceProblem& problem)
      : problem_(problem), level_(problem.jobs.size(), kUndecided), order_(problem.jobs.size()) {
    std::iota(order_.begin(), order_.end(), 0);
    // The job that all others wait for comes first, then those on which the most weight hangs.
    std::vector<double> weight(problem.jobs.size(), 0);
    for (const ChoiceGoal& goal : problem.goals)
      for (int job : goal.jobs) weight[job] += goal.weight;
    std::ranges::stable_sort(order_, [&](int a, int b) {
      if ((a == problem.entry_job) != (b == problem.entry_job)) return a == problem.entry_job;
      return weight[a] > weight[b];
    });
    position_.resize(order_.size());
    for (std::size_t i = 0; i < order_.size(); ++i) position_[order_[i]] = static_cast<int>(i);
    best_.level.assign(problem.jobs.size(), 0);
    for (std::size_t job = 0; job < problem.jobs.size(); ++job) levels_.push_back(useful_levels(static_cast<int>(job)));
  }

  Choice run() {
    descend(0, 0);
    return best_;
  }

 private:
  /// Levels that gain something over the one before, from the highest down: of equal value the cheaper one is chosen,
  /// and costs do not fall.
  std::vector<int> useful_levels(int job) const {
    std::vector<int> useful{0};
    for (int level = 1; level < static_cast<int>(problem_.jobs[job].cost.size()); ++level) {
      const int before = useful.back();
      const bool gains = std::ranges::any_of(problem_.goals, [&](const ChoiceGoal& goal) {
        return goal.weight * (goal.probability[level] - goal.probability[before]) > 0 &&
               std::ranges::find(goal.jobs, job) != goal.jobs.end();
      });
      if (gains || (job == problem_.entry_job && level == 1)) useful.push_back(level);
    }
    std::ranges::reverse(useful);
    return useful;
  }

  double goal_value(const ChoiceGoal& goal, int undecided_as) const {
    int least = undecided_as;
    for (int job : goal.jobs)
      if (level_[job] != kUndecided) least = std::min(least, level_[job]);
    return goal.weight * goal.probability[least];
  }

  int last_undecided(const ChoiceGoal& goal) const {
    int last = kUndecided;
    for (int job : goal.jobs)
      if (level_[job] == kUndecided && (last == kUndecided || position_[job] > position_[last])) last = job;
    return last;
  }

  double bound(double cost) const {
    const int levels = static_cast<int>(problem_.jobs.front().cost.size());
    double settled = 0;
    std::vector<std::vector<double>> gain(problem_.jobs.size());
    for (const ChoiceGoal& goal : problem_.goals) {
      const int owner = last_undecided(goal);
      if (owner == kUndecided) {
        settled += goal_value(goal, levels - 1);
        continue;
      }
      gain[owner].resize(levels, 0);
      for (int level = 0; level < levels; ++level) gain[owner][level] += goal_value(goal, level);
    }
    std::vector<Upgrade> upgrades;
    for (std::size_t job = 0; job < gain.size(); ++job)
      if (!gain[job].empty()) add_hull(problem_.jobs[job].cost, gain[job], upgrades);
    return settled + fill(upgrades, problem_.budget - cost);
  }

  void consider(double cost) {
    double value = 0;
    for (const ChoiceGoal& goal : problem_.goals) value += goal_value(goal, kMostLevels);
    const bool better = value > best_.value + kEqual;
    const bool equal = !better && value >= best_.value - kEqual;
    const bool cheaper = cost < best_.cost - kEqual;
    const bool same_cost = !cheaper && cost <= best_.cost + kEqual;
    if (better || (equal && (cheaper || (same_cost && level_ < best_.level)))) best_ = {level_, value, cost};
  }

  void descend(std::size_t depth, double cost) {
    if (depth == order_.size()) return consider(cost);
    const double most = bound(cost);
    if (most < best_.value - kEqual || (most <= best_.value + kEqual && cost > best_.cost + kEqual)) return;
    const int job = order_[depth];
    const bool shut = problem_.entry_job >= 0 && job != problem_.entry_job && level_[problem_.entry_job] == 0;
    const auto& costs = problem_.jobs[job].cost;
    for (const int level : levels_[job]) {
      if ((shut && level > 0) || cost + costs[level] > problem_.budget + kEqual) continue;
      level_[job] = level;
      descend(depth + 1, cost + costs[level]);
    }
    level_[job] = kUndecided;
  }

  static constexpr int kMostLevels = 1 << 20;  // every job is decided where this is used: never the least
  const ChoiceProblem& problem_;
  std::vector<int> level_, order_, position_;
  std::vector<std::vector<int>> levels_;
  Choice best_;
};

}  // namespace

Choice solve_plan(const ChoiceProblem& problem) {
  if (problem.jobs.empty()) return {};
  return Search(problem).run();
}

}  // namespace provenit::procedure
