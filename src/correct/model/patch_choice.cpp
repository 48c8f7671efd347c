#include "provenit/correct/patch_choice.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "provenit/signal/encoding.h"
#include "state.h"

namespace provenit::correct {
namespace {

using model::Vector;

constexpr double kDeltaE = 720;
/// What the formula may miss is reckoned with even where no residual field was found: amplitude at least this in Delta
/// E ITP, with this length in PQ.
constexpr double kLeastAmplitude = 0.25, kUsualLength = 0.2;

/// Candidates and targets in one list, with the covariance of their I, T, P after the readings of the model.
class Uncertainty {
 public:
  Uncertainty(const DisplayModel::State& state, const std::vector<colour::SignalRgb<>>& signals)
      : state_(state), count_(static_cast<Eigen::Index>(signals.size())) {
    const auto p = state.prior.rows();
    Eigen::MatrixXd slopes(3 * count_, p);
    std::vector<Vector> drives, read;
    for (Eigen::Index i = 0; i < count_; ++i) {
      const Vector container = state.container_light(signals[static_cast<std::size_t>(i)]);
      slopes.middleRows(3 * i, 3) = state.slope_at(container);
      drives.push_back(state.fit.physics.drive(container));
    }
    for (const auto& point : state.points) read.push_back(state.fit.physics.drive(point.container));
    const auto n = static_cast<Eigen::Index>(read.size());
    // The readings' own covariance anew, with the field as it is reckoned with here.
    Eigen::MatrixXd own = state.slopes * state.prior * state.slopes.transpose();
    Eigen::MatrixXd cross = slopes * state.prior * state.slopes.transpose();
    covariance_ = slopes * state.prior * slopes.transpose();
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto noise = model::deviation(state.fit.physics, state.points[static_cast<std::size_t>(i)]).noise;
      for (int a = 0; a < 3; ++a)
        for (int b = 0; b < 3; ++b) own(3 * i + a, 3 * i + b) += noise(a, b);
      for (int a = 0; a < 3; ++a) own(3 * i + a, 3 * i + a) += rest() * rest();
      add(own, i, read[i], read);
    }
    for (Eigen::Index i = 0; i < count_; ++i) {
      add(cross, i, drives[i], read);
      add(covariance_, i, drives[i], drives);
    }
    const Eigen::LLT<Eigen::MatrixXd> root(own);
    const Eigen::MatrixXd known = root.matrixL().solve(cross.transpose());
    covariance_ -= known.transpose() * known;
  }

  [[nodiscard]] double rest() const { return std::max(state_.field.rest(), 0.05 / kDeltaE); }

  /// Of targets first ... last, if this one were read with this noise in I, T, P.
  [[nodiscard]] double gain(Eigen::Index candidate, const Eigen::Matrix3d& noise, Eigen::Index first) const {
    const Eigen::Matrix3d own = covariance_.block<3, 3>(3 * candidate, 3 * candidate) + noise;
    const auto cross = covariance_.block(3 * first, 3 * candidate, covariance_.rows() - 3 * first, 3);
    // trace(cross own^-1 cross^T) = trace(own^-1 (cross^T cross))
    return (own.inverse() * (cross.transpose() * cross)).trace();
  }
  void take(Eigen::Index candidate, const Eigen::Matrix3d& noise) {
    const Eigen::Matrix3d own = covariance_.block<3, 3>(3 * candidate, 3 * candidate) + noise;
    const Eigen::MatrixXd cross = covariance_.middleCols(3 * candidate, 3);
    covariance_ -= cross * own.inverse() * cross.transpose();
  }
  [[nodiscard]] double mean_variance(Eigen::Index first) const {
    return covariance_.diagonal().tail(covariance_.rows() - 3 * first).sum() / static_cast<double>(count_ - first);
  }

 private:
  void add(Eigen::MatrixXd& m, Eigen::Index row, const Vector& at, const std::vector<Vector>& others) const {
    const bool found = !state_.field.empty();
    const double amplitude = kLeastAmplitude / kDeltaE;
    for (std::size_t j = 0; j < others.size(); ++j) {
      double k = 0;
      if (found) {
        k = state_.field.covariance(at, others[j]);
      } else {
        double squared = 0;
        for (int c = 0; c < 3; ++c) squared += (at[c] - others[j][c]) * (at[c] - others[j][c]);
        k = amplitude * amplitude * std::exp(-squared / (2 * kUsualLength * kUsualLength));
      }
      for (int a = 0; a < 3; ++a) m(3 * row + a, 3 * static_cast<Eigen::Index>(j) + a) += k;
    }
  }

  const DisplayModel::State& state_;
  Eigen::Index count_;
  Eigen::MatrixXd covariance_;
};

/// The n-th number of a Halton sequence.
double halton(int n, int base) {
  double value = 0, share = 1;
  for (; n > 0; n /= base) {
    share /= base;
    value += share * (n % base);
  }
  return value;
}

}  // namespace

std::vector<ChosenPatch> next_patches(const DisplayModel& model, const std::vector<colour::SignalRgb<>>& candidates,
                                      const std::vector<colour::SignalRgb<>>& targets, const CostOf& cost_of,
                                      int count) {
  const DisplayModel::State& state = model.state();
  std::vector<colour::SignalRgb<>> all = candidates;
  all.insert(all.end(), targets.begin(), targets.end());
  Uncertainty uncertainty(state, all);
  const auto first_target = static_cast<Eigen::Index>(candidates.size());

  std::vector<Eigen::Matrix3d> noise;
  std::vector<double> seconds;
  for (const auto& c : candidates) {
    const auto light = model.light(c);
    const ReadingCost cost = cost_of(light);
    const colour::Matrix3<> slope = model::itp_slope({light.X, light.Y, light.Z});
    colour::Matrix3<> turned;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) turned(j, i) = slope(i, j);
    const colour::Matrix3<> itp = slope * cost.covariance * turned;
    Eigen::Matrix3d m;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) m(i, j) = itp(i, j);
    noise.emplace_back(m + uncertainty.rest() * uncertainty.rest() * Eigen::Matrix3d::Identity());
    seconds.push_back(std::max(cost.seconds, 1e-3));
  }

  std::vector<ChosenPatch> chosen;
  while (static_cast<int>(chosen.size()) < count) {
    Eigen::Index best = -1;
    double most = 0;
    for (Eigen::Index i = 0; i < first_target; ++i) {
      const double rate =
          uncertainty.gain(i, noise[static_cast<std::size_t>(i)], first_target) / seconds[static_cast<std::size_t>(i)];
      if (rate > most) {
        most = rate;
        best = i;
      }
    }
    if (best < 0) break;
    uncertainty.take(best, noise[static_cast<std::size_t>(best)]);
    chosen.push_back({.signal = candidates[static_cast<std::size_t>(best)],
                      .expected_delta_e_itp = kDeltaE * std::sqrt(uncertainty.mean_variance(first_target))});
  }
  return chosen;
}

std::vector<colour::SignalRgb<>> first_patches(const signal::Encoding& encoding, colour::Luminance<> expected_peak) {
  const EncodedLight light(encoding);
  const double peak = std::min(expected_peak.cdm2, light.most());
  const auto grey = [&](double cdm2) { return light.signal({.r = cdm2, .g = cdm2, .b = cdm2}); };
  std::vector<colour::SignalRgb<>> bright, dark;
  for (const double over : {1.0, 1.15, 1.5, 2.5, 0.85}) bright.push_back(grey(std::min(over * peak, light.most())));
  const double top = model::pq_of(peak);
  constexpr int kGreys = 10;
  for (int i = 1; i < kGreys; ++i) {
    const double cdm2 = model::light_of(top * i / kGreys);
    (i <= kGreys / 2 ? dark : bright).push_back(grey(cdm2));
  }
  for (const double part : {1.0, 0.6}) {
    const double cdm2 = part == 1.0 ? peak : model::light_of(part * top);
    for (int mix = 1; mix < 7; ++mix) {
      const colour::SignalRgb<> s = grey(cdm2);
      (part == 1.0 ? bright : dark).push_back({.r = mix & 1 ? s.r : 0, .g = mix & 2 ? s.g : 0, .b = mix & 4 ? s.b : 0});
    }
  }
  std::vector<colour::SignalRgb<>> out{{.r = 0, .g = 0, .b = 0}};
  for (std::size_t i = 0; i < std::max(bright.size(), dark.size()); ++i) {
    if (i < bright.size()) out.push_back(bright[i]);
    if (i < dark.size()) out.push_back(dark[i]);
  }
  return out;
}

std::vector<colour::SignalRgb<>> target_signals(const signal::Encoding& encoding, const colour::Primaries<>& primaries,
                                                colour::Luminance<> peak, int count, int first) {
  const EncodedLight light(encoding);
  const auto to_container = rgb_to_rgb_matrix(primaries, signal::primaries_of(encoding.container));
  const double top = model::pq_of(peak.cdm2);
  std::vector<colour::SignalRgb<>> out;
  for (int i = 0; i < count; ++i) {
    const int n = first + i + 1;
    Vector e{halton(n, 2), halton(n, 3), halton(n, 5)};
    if (i % 2 == 1) {
      // Near grey: the three within a tenth of one another.
      const double level = 0.9 * e[0];
      e = {level + 0.1 * e[0], level + 0.1 * e[1], level + 0.1 * e[2]};
    }
    Vector rgb{};
    for (int c = 0; c < 3; ++c) rgb[c] = model::light_of(e[c] * top);
    out.push_back(
        light.signal(rgb_from_rgb(colour::AbsoluteRgb<>{.r = rgb[0], .g = rgb[1], .b = rgb[2]}, to_container)));
  }
  return out;
}

std::vector<colour::SignalRgb<>> grey_signals(const signal::Encoding& encoding, colour::Luminance<> from,
                                              colour::Luminance<> to, int count) {
  const EncodedLight light(encoding);
  const double first = model::pq_of(from.cdm2), last = model::pq_of(to.cdm2);
  std::vector<colour::SignalRgb<>> out;
  for (int i = 0; i < count; ++i) {
    const double cdm2 = model::light_of(first + (last - first) * i / std::max(count - 1, 1));
    out.push_back(light.signal({.r = cdm2, .g = cdm2, .b = cdm2}));
  }
  return out;
}

}  // namespace provenit::correct
