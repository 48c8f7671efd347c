#include "provenit/correct/patch_choice.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <utility>

#include "eigen.h"
#include "provenit/signal/encoding.h"
#include "state.h"

namespace provenit::correct {
namespace {

using model::kDeltaE;
using model::Vector;

/// What the formula may miss is reckoned with even where no residual field was found: amplitude at least this in Delta
/// E ITP, with this length in PQ.
constexpr double kLeastAmplitude = 0.25, kUsualLength = 0.2, kLeastRest = 0.05;

/// The model's own field, or where it found none, what a formula may be expected to miss.
model::Kernel kernel_of(const model::Field& field) {
  if (!field.empty()) return [&field](const Vector& a, const Vector& b) { return field.covariance(a, b); };
  return [](const Vector& a, const Vector& b) {
    constexpr double amplitude = kLeastAmplitude / kDeltaE;
    double squared = 0;
    for (int c = 0; c < 3; ++c) squared += (a[c] - b[c]) * (a[c] - b[c]);
    return amplitude * amplitude * std::exp(-squared / (2 * kUsualLength * kUsualLength));
  };
}
double rest_of(const model::Field& field) {
  return std::max(field.rest(), kLeastRest / kDeltaE);
}

/// Candidates and targets in one list, with the covariance of their I, T, P after the readings of the model.
class Uncertainty {
 public:
  Uncertainty(const DisplayModel::State& state, const std::vector<colour::SignalRgb<>>& signals) {
    std::vector<Vector> places;
    for (const auto& s : signals) places.push_back(state.container_light(s));
    covariance_ =
        model::Posterior(state.fit, state.points, kernel_of(state.field), rest_of(state.field)).at(state.fit, places);
  }

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
    return covariance_.diagonal().tail(covariance_.rows() - 3 * first).sum() /
           (static_cast<double>(covariance_.rows() - 3 * first) / 3);
  }

 private:
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

  const double rest = rest_of(state.field);
  std::vector<Eigen::Matrix3d> noise;
  std::vector<double> seconds;
  for (const auto& c : candidates) {
    const auto light = model.light(c);
    const ReadingCost cost = cost_of(light);
    const Eigen::Matrix3d slope = model::eigen_of(model::itp_slope({light.X, light.Y, light.Z}));
    noise.emplace_back(slope * model::eigen_of(cost.covariance) * slope.transpose() +
                       rest * rest * Eigen::Matrix3d::Identity());
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
  const signal::EncodedLight light(encoding);
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
  const signal::EncodedLight light(encoding);
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
  const signal::EncodedLight light(encoding);
  const double first = model::pq_of(from.cdm2), last = model::pq_of(to.cdm2);
  std::vector<colour::SignalRgb<>> out;
  for (int i = 0; i < count; ++i) {
    const double cdm2 = model::light_of(first + (last - first) * i / std::max(count - 1, 1));
    out.push_back(light.signal({.r = cdm2, .g = cdm2, .b = cdm2}));
  }
  return out;
}

PatchChoice patch_choice(const signal::Encoding& encoding, const colour::Primaries<>& primaries,
                         colour::Luminance<> peak) {
  constexpr int kTargets = 200, kCandidates = 300, kCandidatesFirst = 1000, kGreys = 40, kDarkGreys = 60;
  PatchChoice out{
      .candidates = target_signals(encoding, primaries, {.cdm2 = 1.05 * peak.cdm2}, kCandidates, kCandidatesFirst),
      .targets = target_signals(encoding, primaries, {.cdm2 = 0.97 * peak.cdm2}, kTargets)};
  // Half of them in the darkest part: there Delta E ITP makes least of a tint, and reading is slowest.
  for (const auto& [from, to] : {std::pair(0.03, 0.2), std::pair(0.2, 2.0)}) {
    const auto dark = grey_signals(encoding, {.cdm2 = from}, {.cdm2 = to}, kDarkGreys / 2);
    out.targets.insert(out.targets.end(), dark.begin(), dark.end());
    out.candidates.insert(out.candidates.end(), dark.begin(), dark.end());
  }
  const auto first = first_patches(encoding, peak);
  out.candidates.insert(out.candidates.end(), first.begin(), first.end());
  // By equal steps of the signal up to beyond the peak.
  const auto top = first_patches(encoding, {.cdm2 = 1.1 * peak.cdm2})[1];
  for (int i = 1; i < kGreys; ++i) {
    const double part = static_cast<double>(i) / (kGreys - 1);
    out.candidates.push_back({.r = part * top.r, .g = part * top.g, .b = part * top.b});
  }
  return out;
}

int batch_size(int read) {
  constexpr int kSmallest = 16, kShare = 3;
  return std::max(kSmallest, read / kShare);
}

}  // namespace provenit::correct
