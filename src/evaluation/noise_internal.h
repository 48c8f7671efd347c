#pragma once
// Repeatability: the covariance of one reading's X, Y, Z from the repeats of many steps.
#include <array>
#include <span>

#include "provenit/colour/uncertainty.h"
#include "provenit/evaluation/measurement_model.h"
#include "provenit/instrument/instrument.h"

namespace provenit::evaluation {

using Vector3 = std::array<double, 3>;

[[nodiscard]] inline Vector3 channels(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

/// What the capabilities say of a reading.
struct PriorNoise {
  Vector3 deviation{};  ///< standard deviation of X, Y, Z; never 0
  Vector3 relative{};   ///< of it, the part in proportion to light, 0 to 1 (the others are counted light and the floor)
};

/// Deviations of the repeats of one step from their mean, in units of the capabilities' standard deviation.
struct Scatter {
  Vector3 squares{};   ///< sums
  Vector3 expected{};  ///< of the sums, if readings scatter as the capabilities say
  double degrees_of_freedom = 0;
  /// Trace of the quadratic form that the references' noise adds to the squares of Y, and of its square.
  double reference_trace = 0, reference_trace_of_square = 0;
  /// Of the steps whose scatter is mostly in proportion to light, in every channel, weighted: sums of products. What
  /// channels have in common (the meter's gain, the light itself) is in proportion to light; counted light and the
  /// floor are each channel's own.
  std::array<Vector3, 3> relative_products{};
  /// Of these sums, how many times the readings' covariance is expected in them, and what references that are the same
  /// in all channels put there.
  std::array<Vector3, 3> relative_expected{}, relative_shared{};
  /// What of the same sums is in proportion to light by the capabilities.
  std::array<Vector3, 3> relative_parts{};
  double weights = 0, weight_squares = 0;  ///< sums over these steps' degrees of freedom
};

/// How much more the channels scatter than the capabilities say.
struct NoiseScale {
  Vector3 factor{};
  double degrees_of_freedom = 0;
  bool prior_dropped = false;
};
/// How the relative parts of the channels' scatter go together. The capabilities say nothing of that: it is what the
/// repeats show, with as many degrees of freedom as they have for it; 0, and no correlation, where they are too few.
struct CommonNoise {
  std::array<Vector3, 3> correlation{};  ///< of the steps that show it, what is each channel's own included
  /// Of two channels' scatter there, what is in proportion to light; above 0, up to 1.
  std::array<Vector3, 3> part{{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}};
  double degrees_of_freedom = 0;
  /// Of two channels of a reading. Light with less in proportion than the steps that showed it has as much less in
  /// common, and never more than is in proportion. Of light with more, what was shown not to be common falls as counted
  /// light does, as far as the channels' own part (what was shown, a quarter at least) lets it: a few repeats show next
  /// to nothing of that by chance.
  [[nodiscard]] double at(const PriorNoise& prior, int a, int b) const;
};

/// What the capabilities (X, Y, Z in cd/m2) say of a reading integrated for so long (> 0).
[[nodiscard]] PriorNoise prior_noise(const colour::AbsoluteXyz<>& xyz, Seconds integration,
                                     const instrument::Capabilities& capabilities);
/// Whether the relative part of the capabilities dominates at this luminance.
[[nodiscard]] bool is_bright(double luminance_cdm2, const instrument::Capabilities& capabilities);

/// Noise that repeats owe to the drift references they were divided by.
struct ReferenceNoise {
  double spread = 0;         ///< sum over repeats and references of (weight - mean weight over the repeats)^2
  Vector3 relative{};        ///< standard deviation of a reference's X, Y, Z by the capabilities, over its value
  bool same_in_all = false;  ///< X, Y, Z were all divided by the ratio of Y
};

/// Adds the repeats of one step (at least one) to the scatter; each was integrated for so long. Gives how much the
/// references' noise counts in the squares of Y, per unit of the spread.
double add_repeats(Scatter& scatter, std::span<const colour::AbsoluteXyz<>> repeats, Seconds integration,
                   const instrument::Capabilities& capabilities, const ReferenceNoise& references = {});
/// Degrees of freedom of the squares (of Y). All repeats share a few references.
/// source  mean and variance of quadratic forms in normal variables; JCGM 100:2008, G.4.1 (two moments)
[[nodiscard]] double effective_degrees_of_freedom(const Scatter& scatter);
[[nodiscard]] NoiseScale pooled(const Scatter& scatter);
[[nodiscard]] CommonNoise common_noise(const Scatter& scatter);

/// The estimates with the pools of the sources that are drawn from them.
struct NoisePool {
  NoisePool(colour::Sources& sources, const Scatter& scatter, const CommonNoise& in_common);
  NoiseScale scale;
  CommonNoise common;
  colour::PoolId luminance, beside;  ///< of Y; of what X and Z scatter beside what they share with it
};

/// Zero-mean errors of X, Y, Z of a mean of `count` readings, as new sources.
[[nodiscard]] colour::AbsoluteXyz<colour::Uncertain> noise_of(colour::Sources& sources, const char* name,
                                                              const NoisePool& pool, const PriorNoise& prior,
                                                              double count);

}  // namespace provenit::evaluation
