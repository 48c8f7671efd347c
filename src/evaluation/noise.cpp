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

constexpr double kMostlyRelative = 0.5;  // of a reading's variance, in every channel
/// Of what is in proportion to light, what each channel is taken to have of its own at least: a few repeats show next
/// to nothing by chance.
constexpr double kLeastOwn = 0.25;
constexpr double kFewestForCommon = 3;  // degrees of freedom that say something of three correlations

constexpr std::array<int, 3> kChannelOrder{1, 0, 2};  // Y first: its noise is the one the capabilities speak of

bool contradicts_prior(const Scatter& scatter) {
  const double nu = effective_degrees_of_freedom(scatter);
  if (nu <= 0) return false;
  const double limit =
      boost::math::quantile(boost::math::complement(boost::math::fisher_f(nu, kPriorDegrees), kContradiction / 3));
  double most = 0;
  for (int i = 0; i < 3; ++i) most = std::max(most, scatter.squares[i] / scatter.expected[i]);
  return most > limit;
}

// Lower-triangular root of a matrix of correlations; each row has the length 1, also where estimates contradict each
// other.
std::array<Vector3, 3> root_of(const std::array<Vector3, 3>& m) {
  std::array<Vector3, 3> l{};
  for (int i = 0; i < 3; ++i) {
    double length = 0;
    for (int j = 0; j < i; ++j) {
      double sum = m[i][j];
      for (int k = 0; k < j; ++k) sum -= l[i][k] * l[j][k];
      l[i][j] = l[j][j] > 0 ? sum / l[j][j] : 0;
      length += l[i][j] * l[i][j];
    }
    l[i][i] = std::sqrt(std::max(0.0, 1 - length));
    if (length > 1)
      for (int j = 0; j < i; ++j) l[i][j] /= std::sqrt(length);
  }
  return l;
}

}  // namespace

PriorNoise prior_noise(const colour::AbsoluteXyz<>& xyz, Seconds integration,
                       const instrument::Capabilities& capabilities) {
  const double a = std::max(capabilities.repeatability_relative, kLeastRelative);
  const double floor = std::max(capabilities.noise_floor_cdm2, kLeastAbsolute);
  const double shot = capabilities.shot_noise / std::sqrt(integration.s);
  PriorNoise out;
  for (int i = 0; i < 3; ++i) {
    const double v = channels(xyz)[i];
    out.deviation[i] = std::hypot(a * v, floor, shot * std::sqrt(std::max(v, 0.0)));
    out.relative[i] = std::fabs(a * v) / out.deviation[i];
  }
  return out;
}

bool is_bright(double luminance_cdm2, const instrument::Capabilities& capabilities) {
  return std::fabs(luminance_cdm2) * capabilities.repeatability_relative >= capabilities.noise_floor_cdm2;
}

double add_repeats(Scatter& scatter, std::span<const colour::AbsoluteXyz<>> repeats, Seconds integration,
                   const instrument::Capabilities& capabilities, const ReferenceNoise& references) {
  if (repeats.size() < 2) return 0;
  const auto n = static_cast<double>(repeats.size());
  Vector3 mean{};
  for (const auto& r : repeats)
    for (int k = 0; k < 3; ++k) mean[k] += channels(r)[k] / n;
  const auto prior = prior_noise({.X = mean[0], .Y = mean[1], .Z = mean[2]}, integration, capabilities);
  const double share = std::pow(*std::ranges::min_element(prior.relative), 2);
  // The more of it hides what is common, the less a step says of that.
  const double weight = share >= kMostlyRelative ? std::pow(share, 4) : 0;
  for (const auto& r : repeats)
    for (int i = 0; i < 3; ++i) {
      const auto off = [&](int k) { return (channels(r)[k] - mean[k]) / prior.deviation[k]; };
      scatter.squares[i] += off(i) * off(i);
      for (int j = 0; j < 3; ++j) scatter.relative_products[i][j] += weight * off(i) * off(j);
    }
  Vector3 reference{};  // a reference's deviation in units of these readings'
  for (int i = 0; i < 3; ++i) reference[i] = references.relative[i] * std::fabs(mean[i]) / prior.deviation[i];
  scatter.degrees_of_freedom += n - 1;
  scatter.weights += (n - 1) * weight;
  scatter.weight_squares += (n - 1) * weight * weight;
  for (int i = 0; i < 3; ++i) {
    scatter.expected[i] += n - 1 + references.spread * reference[i] * reference[i];
    for (int j = 0; j < 3; ++j) {
      const double of_references = weight * references.spread * reference[i] * reference[j];
      scatter.relative_expected[i][j] += weight * (n - 1);
      (references.same_in_all ? scatter.relative_shared : scatter.relative_expected)[i][j] += of_references;
      scatter.relative_parts[i][j] += (n - 1) * weight * prior.relative[i] * prior.relative[j];
    }
  }
  return reference[1] * reference[1];
}

double effective_degrees_of_freedom(const Scatter& s) {
  const double mean = s.degrees_of_freedom + s.reference_trace;
  if (!(mean > 0)) return 0;
  // Half the variance: of the readings' own squares, of their products with the references' noise, of its squares.
  return mean * mean / (s.degrees_of_freedom + 2 * s.reference_trace + s.reference_trace_of_square);
}

NoiseScale pooled(const Scatter& scatter) {
  NoiseScale out;
  out.prior_dropped = contradicts_prior(scatter);
  const double prior = out.prior_dropped ? 0 : kPriorDegrees, nu = effective_degrees_of_freedom(scatter);
  out.degrees_of_freedom = prior + nu;
  for (int i = 0; i < 3; ++i) {
    const double read = nu > 0 ? nu * scatter.squares[i] / scatter.expected[i] : 0;
    out.factor[i] = std::sqrt((prior + read) / out.degrees_of_freedom);
  }
  return out;
}

CommonNoise common_noise(const Scatter& scatter) {
  CommonNoise out;
  const auto& p = scatter.relative_products;
  if (!(p[0][0] > 0 && p[1][1] > 0 && p[2][2] > 0)) return out;
  const double effective = scatter.weights * scatter.weights / scatter.weight_squares *
                           (effective_degrees_of_freedom(scatter) / scatter.degrees_of_freedom);
  if (effective < kFewestForCommon + 1e-6) return out;
  out.degrees_of_freedom = effective;
  const auto factor = [&](int k) {
    return std::sqrt(p[k][k] / (scatter.relative_expected[k][k] + scatter.relative_shared[k][k]));
  };
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      out.correlation[i][j] =
          (p[i][j] / (factor(i) * factor(j)) - scatter.relative_shared[i][j]) / scatter.relative_expected[i][j];
      out.part[i][j] = scatter.relative_parts[i][j] / scatter.weights;
    }
  return out;
}

double CommonNoise::at(const PriorNoise& prior, int a, int b) const {
  const double here = prior.relative[a] * prior.relative[b], there = part[a][b], shown = correlation[a][b];
  double in_common = shown * here / there;
  if (here > there) {
    // What is not common is scaled as a whole, so that it keeps its degrees of freedom.
    const double own = std::max(kLeastOwn, 1 - shown / there);
    in_common = 1 - (1 - shown) * (1 - (1 - own) * here) / (1 - (1 - own) * there);
  }
  return std::clamp(in_common, -here, here);
}

NoisePool::NoisePool(colour::Sources& sources, const Scatter& scatter, const CommonNoise& in_common)
    : scale(pooled(scatter)),
      common(in_common),
      luminance(sources.add_pool(scale.degrees_of_freedom)),
      beside(luminance) {
  if (common.degrees_of_freedom > 0 && common.degrees_of_freedom < scale.degrees_of_freedom)
    beside = sources.add_pool(common.degrees_of_freedom);
}

colour::AbsoluteXyz<colour::Uncertain> noise_of(colour::Sources& sources, const char* name, const NoisePool& pool,
                                                const PriorNoise& prior, double count) {
  std::array<Vector3, 3> correlation{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      const int a = kChannelOrder[i], b = kChannelOrder[j];
      correlation[i][j] = i == j ? 1 : pool.common.at(prior, a, b);
    }
  const auto root = root_of(correlation);
  std::array<colour::Uncertain, 3> independent, out;
  for (int i = 0; i < 3; ++i)
    independent[i] = colour::Uncertain(
        0, sources.add({.name = name, .standard_uncertainty = 1, .pool = i == 0 ? pool.luminance : pool.beside}));
  for (int i = 0; i < 3; ++i) {
    const int k = kChannelOrder[i];
    const double scale = pool.scale.factor[k] * prior.deviation[k] / std::sqrt(count);
    for (int j = 0; j <= i; ++j) out[k] += root[i][j] * scale * independent[j];
  }
  return {.X = out[0], .Y = out[1], .Z = out[2]};
}

}  // namespace provenit::evaluation
