// Why the error is no smaller.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "balance_internal.h"

namespace provenit::correct::balance {
namespace {

constexpr double kBeyond = 1.5;      ///< ranges that a control is imagined to go on beyond its ends
constexpr double kCoarseStep = 0.4;  ///< of the tolerance: a step of less is not what stands in the way
constexpr std::size_t kMostCoarse = 3;

ControlSettings settings_at(const Model& model, const Eigen::VectorXd& t) {
  ControlSettings out = model.centre;
  for (std::size_t j = 0; j < out.size(); ++j) {
    const Control& c = model.task.controls[j];
    out[j] += t[static_cast<Eigen::Index>(j)] * (c.highest - c.lowest);
  }
  return out;
}

/// What a level would be off, less what the model does not know (two standard deviations).
double surely_left(const Model& model, std::size_t level, const Eigen::VectorXd& t) {
  const Response& r = model.levels[level];
  const Eigen::Vector3d z = r.z(t);
  const double known = errors_at(model.task, model.coordinates, level, z).ratio();
  return known - 2 * std::sqrt(r.variance(t)) * linear(model.task, model.coordinates, level, z).slope.norm();
}

void add_unmoved(std::vector<BalanceReason>& out, const Model& model, const Eigen::VectorXd& free) {
  for (std::size_t l = 0; l < model.levels.size(); ++l) {
    const double left = surely_left(model, l, free);
    if (left <= 1) continue;
    const auto& name = model.task.levels[l].name;
    out.push_back({BalanceLimit::no_control, name,
                   fmt::format("{}: no combination of these controls corrects it, whatever their range "
                               "(at least {:.1f} times the tolerance would be left)",
                               name, left)});
  }
}

void add_ends(std::vector<BalanceReason>& out, const Model& model, const ControlSettings& free) {
  for (std::size_t j = 0; j < free.size(); ++j) {
    const Control& c = model.task.controls[j];
    const double highest = value_of(c, steps_of(c));
    if (free[j] <= highest + c.step / 2 && free[j] >= c.lowest - c.step / 2) continue;
    const bool above = free[j] > highest;
    out.push_back({BalanceLimit::at_end, c.name,
                   fmt::format("{}: it ends at {:.6g}; about {:.4g} would be needed", c.name,
                               above ? highest : c.lowest, free[j])});
  }
}

void add_coarse(std::vector<BalanceReason>& out, const Model& model) {
  std::vector<std::pair<double, std::size_t>> effects;
  for (std::size_t j = 0; j < model.task.controls.size(); ++j) {
    const Control& c = model.task.controls[j];
    const double effect = strength_of(model, j, 0).tolerances * c.step / (c.highest - c.lowest);
    if (effect >= kCoarseStep) effects.emplace_back(effect, j);
  }
  std::ranges::sort(effects, std::greater());
  if (effects.size() > kMostCoarse) effects.resize(kMostCoarse);
  for (const auto& [effect, j] : effects) {
    const Control& c = model.task.controls[j];
    out.push_back({BalanceLimit::step, c.name,
                   fmt::format("{}: one step of {:.4g} makes {:.1f} times the tolerance", c.name, c.step, effect)});
  }
}

/// Where the interval reaches over the tolerance.
void add_uncertain(std::vector<BalanceReason>& out, const BalanceTask& task, std::span<const LevelFigures> after) {
  for (std::size_t l = 0; l < after.size(); ++l) {
    const auto& f = after[l];
    if (f.upper_ratio <= 1 || f.lower_ratio > 1) continue;
    const double noise = f.upper_ratio_by_noise - f.ratio, all = f.upper_ratio - f.ratio;
    const auto& name = task.levels[l].name;
    if (noise > 0.5 * all)
      out.push_back({BalanceLimit::noise, name,
                     fmt::format("{}: the scatter of the readings leaves it open; read it longer", name)});
    else
      out.push_back({BalanceLimit::instrument, name,
                     fmt::format("{}: the instrument's certificate leaves it open; repeats do not help", name)});
  }
}

}  // namespace

std::vector<BalanceReason> reasons_for(const Model& model, std::span<const LevelFigures> after, bool capped) {
  std::vector<BalanceReason> out;
  const bool outside = std::ranges::any_of(after, [](const auto& f) { return f.ratio > 1; });
  if (outside) {
    const auto free = best_real(model, kBeyond, 0).t, bounded = best_real(model, 0, 0).t;
    const double with_ends = model.score(settings_at(model, bounded), false);
    add_unmoved(out, model, free);
    if (with_ends > 1 || !out.empty()) add_ends(out, model, settings_at(model, free));
    if (out.empty()) add_coarse(out, model);
  }
  add_uncertain(out, model.task, after);
  if (capped)
    out.push_back({BalanceLimit::settings, "", fmt::format("{} settings were tried", model.task.most_settings)});
  return out;
}

}  // namespace provenit::correct::balance
