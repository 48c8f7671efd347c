// Which setting is best: least squares over the real numbers within the controls' ends, then over their steps.
#include <algorithm>
#include <cmath>
#include <numeric>
#include <queue>

#include "balance_internal.h"

namespace provenit::correct::balance {
namespace {

constexpr double kRidge = 0.01;    ///< squared tolerances that a move over a whole range costs: of equals, the nearest
constexpr int kMostNodes = 40000;  ///< of the search over the steps
/// A control whose whole range is worth less than this, in tolerances, stays where it is.
constexpr double kNothing = 0.25;

Ends ends_of(const Model& model, double beyond) {
  ControlSettings lowest, highest;
  for (const auto& c : model.task.controls) {
    lowest.push_back(c.lowest);
    highest.push_back(value_of(c, steps_of(c)));
  }
  Ends out{.lowest = (shares(model.task, lowest, model.centre).array() - beyond).matrix(),
           .highest = (shares(model.task, highest, model.centre).array() + beyond).matrix()};
  for (std::size_t j = 0; j < model.inert.size(); ++j)
    if (model.inert[j]) out.lowest[static_cast<Eigen::Index>(j)] = out.highest[static_cast<Eigen::Index>(j)] = 0;
  return out;
}

/// Expected square of error over tolerance around t, levels weighted.
Quadratic quadratic_at(const Model& model, const Eigen::VectorXd& t, std::span<const double> weights, double caution) {
  const auto n = t.size();
  Quadratic q{.h = kRidge * Eigen::MatrixXd::Identity(n, n), .g = Eigen::VectorXd::Zero(n)};
  for (std::size_t l = 0; l < model.levels.size(); ++l) {
    const Response& r = model.levels[l];
    const Linear at = linear(model.task, model.coordinates, l, r.z(t));
    const Eigen::MatrixXd j = at.slope * r.mean.bottomRows(n).transpose();
    const double spread = caution * weights[l] * at.slope.squaredNorm();
    q.h += weights[l] * j.transpose() * j + spread * r.covariance.bottomRightCorner(n, n);
    q.g += weights[l] * j.transpose() * (at.e - j * t) + spread * r.covariance.bottomLeftCorner(n, 1);
  }
  return q;
}

/// Depth first over the controls, each from the value that is best for it outwards.
class StepSearch {
 public:
  StepSearch(const Model& model, const Quadratic& q, std::size_t count) : model_(model), count_(count) {
    for (std::size_t j = 0; j < model.task.controls.size(); ++j)
      if (!model.inert[j] && strength_of(model, j, 2).tolerances > kNothing)
        moves_.push_back(static_cast<Eigen::Index>(j));
    // What matters most is decided first: it comes last.
    std::ranges::sort(moves_, {}, [&](Eigen::Index j) { return q.h(j, j) * std::pow(step(j), 2); });
    const auto n = static_cast<Eigen::Index>(moves_.size());
    Eigen::MatrixXd h(n, n);
    Eigen::VectorXd g(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      g[i] = q.g[moves_[i]];
      for (Eigen::Index k = 0; k < n; ++k) h(i, k) = q.h(moves_[i], moves_[k]);
    }
    const Eigen::LLT<Eigen::MatrixXd> root(h);
    r_ = root.matrixU();
    free_ = -root.solve(g);
    t_ = Eigen::VectorXd::Zero(n);
  }

  Candidates run() {
    descend(t_.size() - 1, 0);
    Candidates out{.settings = {}, .complete = nodes_ < kMostNodes};
    for (; !kept_.empty(); kept_.pop()) out.settings.push_back(kept_.top().settings);
    std::ranges::reverse(out.settings);
    return out;
  }

 private:
  struct Kept {
    double cost;
    ControlSettings settings;
    bool operator<(const Kept& other) const { return cost < other.cost; }
  };

  [[nodiscard]] const Control& control(Eigen::Index j) const { return model_.task.controls[j]; }
  [[nodiscard]] double step(Eigen::Index j) const { return control(j).step / (control(j).highest - control(j).lowest); }
  [[nodiscard]] double share(Eigen::Index j, long k) const {
    return (value_of(control(j), k) - model_.centre[j]) / (control(j).highest - control(j).lowest);
  }

  void keep(double cost) {
    ControlSettings settings = model_.centre;
    for (Eigen::Index i = 0; i < t_.size(); ++i) settings[moves_[i]] = value_of(control(moves_[i]), k_[i]);
    kept_.push({cost, std::move(settings)});
    if (kept_.size() > count_) kept_.pop();
  }

  void descend(Eigen::Index i, double cost) {
    if (k_.size() != static_cast<std::size_t>(t_.size())) k_.resize(t_.size());
    if (i < 0) return keep(cost);
    const Eigen::Index j = moves_[i];
    double best = free_[i];
    for (Eigen::Index later = i + 1; later < t_.size(); ++later)
      best -= r_(i, later) / r_(i, i) * (t_[later] - free_[later]);
    const long last = steps_of(control(j));
    const double at = (best - share(j, 0)) / step(j);
    const long nearest = std::lround(std::clamp(at, 0.0, static_cast<double>(last)));
    // Outwards from the nearest: the cost rises on either side.
    long up = nearest, down = nearest - 1;
    while (up <= last || down >= 0) {
      const bool take_up = down < 0 || (up <= last && std::fabs(static_cast<double>(up) - at) <=
                                                          std::fabs(static_cast<double>(down) - at));
      const long k = take_up ? up++ : down--;
      t_[i] = share(j, k);
      const double here = cost + 0.5 * std::pow(r_(i, i) * (t_[i] - best), 2);
      const bool full = kept_.size() >= count_;
      if ((full && here >= kept_.top().cost) || (full && nodes_ >= kMostNodes)) return;
      ++nodes_;
      k_[i] = k;
      descend(i - 1, here);
    }
  }

  const Model& model_;
  std::size_t count_;
  std::vector<Eigen::Index> moves_;
  Eigen::MatrixXd r_;
  Eigen::VectorXd free_, t_;
  std::vector<long> k_;
  std::priority_queue<Kept> kept_;
  int nodes_ = 0;
};

}  // namespace

double value_of(const Control& control, long k) {
  return control.lowest + static_cast<double>(k) * control.step;
}

long steps_of(const Control& control) {
  return static_cast<long>(std::floor((control.highest - control.lowest) / control.step + 1e-9));
}

Eigen::VectorXd within_ends(const Quadratic& q, const Ends& ends) {
  // Active set: solve for the controls that are free, stop at the first end on the way, let go of an end that pushes.
  const auto n = q.g.size();
  Eigen::VectorXd t = Eigen::VectorXd::Zero(n).cwiseMax(ends.lowest).cwiseMin(ends.highest);
  std::vector<bool> free(static_cast<std::size_t>(n), true);
  for (Eigen::Index round = 0; round < 20 * n + 20; ++round) {
    std::vector<Eigen::Index> moves;
    for (Eigen::Index j = 0; j < n; ++j)
      if (free[static_cast<std::size_t>(j)]) moves.push_back(j);
    const Eigen::VectorXd slope = q.h * t + q.g;
    Eigen::VectorXd way = Eigen::VectorXd::Zero(n);
    if (!moves.empty()) way(moves) = -q.h(moves, moves).ldlt().solve(slope(moves));
    double share = 1;
    Eigen::Index stopped = -1;
    for (const auto j : moves) {
      if (way[j] == 0) continue;
      const double room = ((way[j] > 0 ? ends.highest[j] : ends.lowest[j]) - t[j]) / way[j];
      if (room < share) share = std::max(0.0, room), stopped = j;
    }
    t += share * way;
    if (stopped >= 0) {
      t[stopped] = way[stopped] > 0 ? ends.highest[stopped] : ends.lowest[stopped];
      free[static_cast<std::size_t>(stopped)] = false;
      continue;
    }
    const Eigen::VectorXd push = q.h * t + q.g;
    Eigen::Index released = -1;
    double most = 1e-9;
    for (Eigen::Index j = 0; j < n; ++j) {
      if (free[static_cast<std::size_t>(j)]) continue;
      const double inwards = t[j] >= ends.highest[j] ? push[j] : -push[j];
      if (inwards > most) most = inwards, released = j;
    }
    if (released < 0) break;
    free[static_cast<std::size_t>(released)] = true;
  }
  return t;
}

Best best_real(const Model& model, double beyond, double caution) {
  const auto n = static_cast<Eigen::Index>(model.task.controls.size());
  const Ends ends = ends_of(model, beyond);
  std::vector<double> weights(model.levels.size(), 1);
  Best out{.t = Eigen::VectorXd::Zero(n), .quadratic = {}};
  for (int pass = 0; pass < 8; ++pass) {
    out.quadratic = quadratic_at(model, out.t, weights, caution);
    out.t = within_ends(out.quadratic, ends);
    // Towards the least largest error (Lawson 1961, from memory): levels that are worse count more next time.
    std::vector<double> ratios;
    for (std::size_t l = 0; l < weights.size(); ++l)
      ratios.push_back(errors_at(model.task, model.coordinates, l, model.levels[l].z(out.t)).ratio());
    const double worst = std::ranges::max(ratios);
    if (worst <= 0.5) break;  // well inside: what is left is as good as the sum of squares has it
    for (std::size_t l = 0; l < weights.size(); ++l) weights[l] *= std::max(0.1, ratios[l] / worst);
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    for (double& w : weights) w *= static_cast<double>(weights.size()) / sum;
  }
  return out;
}

Candidates best_on_steps(const Model& model, const Best& real, std::size_t count) {
  return StepSearch(model, real.quadratic, count).run();
}

}  // namespace provenit::correct::balance
