#pragma once
// Repeatability: the covariance of one reading's X, Y, Z from the repeats of many steps.
#include <array>
#include <span>

#include "provenit/colour/uncertainty.h"
#include "provenit/evaluation/measurement_model.h"
#include "provenit/instrument/instrument.h"

namespace provenit::evaluation {

using Vector3 = std::array<double, 3>;

/// Deviations of the repeats of one step from their mean, in units of the capabilities' standard deviation.
struct Scatter {
  std::array<Vector3, 3> sum{};  ///< sum of products
  double degrees_of_freedom = 0;
};

/// The pooled estimate in units of the capabilities' standard deviations.
struct NoiseCovariance {
  std::array<Vector3, 3> factor{};  ///< lower triangular L over (Y, X, Z); covariance = L L^T
  double degrees_of_freedom = 0;
  bool prior_dropped = false;
};

/// The capabilities' standard deviation of a reading of each channel (X, Y, Z) at these values, integrated for so long
/// (> 0). Never 0.
[[nodiscard]] Vector3 prior_deviation(const colour::AbsoluteXyz<>& xyz, Seconds integration,
                                      const instrument::Capabilities& capabilities);
/// Whether the relative part of the capabilities dominates at this luminance.
[[nodiscard]] bool is_bright(double luminance_cdm2, const instrument::Capabilities& capabilities);

/// Adds the repeats of one step (at least one) to the scatter; each was integrated for so long.
void add_repeats(Scatter& scatter, std::span<const colour::AbsoluteXyz<>> repeats, Seconds integration,
                 const instrument::Capabilities& capabilities);
[[nodiscard]] NoiseCovariance pooled(const Scatter& scatter);

/// Zero-mean errors of X, Y, Z of a mean of `count` readings, as new sources that share `pool`.
[[nodiscard]] colour::AbsoluteXyz<colour::Uncertain> noise_of(colour::Sources& sources, const char* name,
                                                              colour::PoolId pool, const NoiseCovariance& covariance,
                                                              const Vector3& deviation, double count);

}  // namespace provenit::evaluation
