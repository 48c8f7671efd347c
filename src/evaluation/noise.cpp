#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "noise_internal.h"

namespace provenit::evaluation {
namespace {

/// What is known before reading: the capabilities, taken as good to 25 %, channels independent.
const double kPriorDegrees = colour::type_b_degrees_of_freedom(0.25);
constexpr double kContradiction = 0.01;
/// Keeps deviations above 0 for instruments that claim no noise at all, relative and in cd/m2.
constexpr double kLeastRelative = 1e-7, kLeastAbsolute = 1e-9;

constexpr std::array<int, 3> kOrder{1, 0, 2};  // Y first: its noise is the one the capabilities speak of

Vector3 channels(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

// Lower-triangular root of a positive semidefinite matrix; a channel without any variance gets a zero row.
std::array<Vector3, 3> cholesky(const std::array<Vector3, 3>& m) {
  std::array<Vector3, 3> l{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j <= i; ++j) {
      double sum = m[i][j];
      for (int k = 0; k < j; ++k) sum -= l[i][k] * l[j][k];
      if (i == j) {
        l[i][i] = std::sqrt(std::max(sum, 0.0));
      } else if (l[j][j] > 0) {
        l[i][j] = sum / l[j][j];
      }
    }
  return l;
}

bool contradicts_prior(const Scatter& scatter) {
  const double nu = scatter.degrees_of_freedom;
  if (nu <= 0) return false;
  const double limit =
      boost::math::quantile(boost::math::complement(boost::math::fisher_f(nu, kPriorDegrees), kContradiction / 3));
  const double largest = std::max({scatter.sum[0][0], scatter.sum[1][1], scatter.sum[2][2]});
  return largest / nu > limit;
}

double determinant_of_correlation(const std::array<Vector3, 3>& s) {
  const auto r = [&](int i, int j) { return s[i][j] / std::sqrt(s[i][i] * s[j][j]); };
  const double a = r(0, 1), b = r(0, 2), c = r(1, 2);
  return 1 + 2 * a * b * c - a * a - b * b - c * c;
}

/// Whether the repeats show that the channels are not independent: Bartlett's test of a correlation matrix.
bool contradicts_independence(const Scatter& scatter) {
  constexpr double channels = 3;
  const double nu = scatter.degrees_of_freedom;
  if (nu <= 2 * channels || !(scatter.sum[0][0] > 0 && scatter.sum[1][1] > 0 && scatter.sum[2][2] > 0)) return false;
  const double statistic =
      -(nu - (2 * channels + 5) / 6) * std::log(std::max(determinant_of_correlation(scatter.sum), 1e-300));
  return statistic > colour::chi_square_quantile(1 - kContradiction, channels * (channels - 1) / 2);
}

}  // namespace

Vector3 prior_deviation(const colour::AbsoluteXyz<>& xyz, Seconds integration,
                        const instrument::Capabilities& capabilities) {
  const double a = std::max(capabilities.repeatability_relative, kLeastRelative);
  const double floor = std::max(capabilities.noise_floor_cdm2, kLeastAbsolute);
  Vector3 out = channels(xyz);
  const double shot = capabilities.shot_noise / std::sqrt(integration.s);
  for (double& v : out) v = std::hypot(a * v, floor, shot * std::sqrt(std::max(v, 0.0)));
  return out;
}

bool is_bright(double luminance_cdm2, const instrument::Capabilities& capabilities) {
  return std::fabs(luminance_cdm2) * capabilities.repeatability_relative >= capabilities.noise_floor_cdm2;
}

void add_repeats(Scatter& scatter, std::span<const colour::AbsoluteXyz<>> repeats, Seconds integration,
                 const instrument::Capabilities& capabilities) {
  if (repeats.size() < 2) return;
  const auto n = static_cast<double>(repeats.size());
  Vector3 mean{};
  for (const auto& r : repeats)
    for (int k = 0; k < 3; ++k) mean[k] += channels(r)[k] / n;
  const Vector3 unit = prior_deviation({.X = mean[0], .Y = mean[1], .Z = mean[2]}, integration, capabilities);
  for (const auto& r : repeats)
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) {
        const int a = kOrder[i], b = kOrder[j];
        scatter.sum[i][j] += (channels(r)[a] - mean[a]) / unit[a] * (channels(r)[b] - mean[b]) / unit[b];
      }
  scatter.degrees_of_freedom += n - 1;
}

NoiseCovariance pooled(const Scatter& scatter) {
  NoiseCovariance out;
  out.prior_dropped = contradicts_prior(scatter);
  const double prior = out.prior_dropped ? 0 : kPriorDegrees;
  out.degrees_of_freedom = prior + scatter.degrees_of_freedom;
  std::array<Vector3, 3> covariance = scatter.sum;
  for (int i = 0; i < 3; ++i) {
    covariance[i][i] += prior;
    for (double& v : covariance[i]) v /= out.degrees_of_freedom;
  }
  // The prior knows how much each channel scatters, and nothing of what they have in common: where the repeats show
  // that they have, correlations are those of the repeats alone. Else u', v' would seem noisier than they are.
  if (contradicts_independence(scatter))
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j)
        if (i != j)
          covariance[i][j] = scatter.sum[i][j] / std::sqrt(scatter.sum[i][i] * scatter.sum[j][j]) *
                             std::sqrt(covariance[i][i] * covariance[j][j]);
  out.factor = cholesky(covariance);
  return out;
}

colour::AbsoluteXyz<colour::Uncertain> noise_of(colour::Sources& sources, const char* name, colour::PoolId pool,
                                                const NoiseCovariance& covariance, const Vector3& deviation,
                                                double count) {
  std::array<colour::Uncertain, 3> independent, by_order;
  for (auto& u : independent)
    u = colour::Uncertain(0, sources.add({.name = name, .standard_uncertainty = 1, .pool = pool}));
  for (int i = 0; i < 3; ++i) {
    const double scale = deviation[kOrder[i]] / std::sqrt(count);
    for (int j = 0; j <= i; ++j) by_order[i] += covariance.factor[i][j] * scale * independent[j];
  }
  return {.X = by_order[1], .Y = by_order[0], .Z = by_order[2]};
}

}  // namespace provenit::evaluation
