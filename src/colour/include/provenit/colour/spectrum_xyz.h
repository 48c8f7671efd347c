#pragma once
// Spectral radiance to X, Y, Z. The sum is linear in the samples, so it is given as weights: uncertainty, or any other
// scalar, flows through `weighted_xyz`.
#include <span>
#include <vector>

#include "provenit/colour/observer.h"
#include "provenit/colour/scalar.h"
#include "provenit/colour/spectrum.h"

namespace provenit::colour {

enum class Summation {
  sprague,  ///< interpolated to 1 nm or finer, every sample kept, then summed: for smooth spectra
  linear,   ///< the same with straight lines: no overshoot, a little low on every peak
  native    ///< the samples as they are, times the step: for lines read with a bandwidth equal to the step
};

struct XyzMethod {
  Observer observer = Observer::cie1931_2deg;
  Summation summation = Summation::sprague;  ///< steps of 1 nm or less are summed as they are, whatever this says
  bool bandpass_correction = false;          ///< Stearns and Stearns first (see spectrum.h)
  double km_lm_per_w = kMaximumLuminousEfficacy;
};

/// X = sum of value[i] * per_sample[i].x, and so on; Km and the step are inside.
struct SpectralWeights {
  std::vector<MatchingFunctions> per_sample;
  /// Share (0 to 1) of each matching function's table that lies below the first or above the last sample. That part of
  /// the spectrum counts as zero; if the source may emit there, treat the share as an uncertainty.
  MatchingFunctions missing;
};

/// Weights for a spectrum of `samples` values from start_nm at step_nm.
/// grid    step > 1 nm: each step is cut into ceil(step) equal parts; else the samples themselves. Between the whole
///         nanometres of its table the observer is linear; outside it is zero.
/// errors  those of validate(Spectrum); invalid_input for sprague with fewer than 6 samples, Km <= 0
/// source  ISO/CIE 11664-3:2019 (summation at 1 nm); interpolation as in spectrum.h
[[nodiscard]] Result<SpectralWeights> spectral_weights(double start_nm, double step_nm, int samples,
                                                       const XyzMethod& method = {});

/// values[i] in W/(sr m2 nm), as many as the weights.
template <Scalar T>
[[nodiscard]] AbsoluteXyz<T> weighted_xyz(const SpectralWeights& weights, std::span<const T> values) {
  AbsoluteXyz<T> sum;
  for (std::size_t i = 0; i < weights.per_sample.size(); ++i) {
    sum.X = sum.X + weights.per_sample[i].x * values[i];
    sum.Y = sum.Y + weights.per_sample[i].y * values[i];
    sum.Z = sum.Z + weights.per_sample[i].z * values[i];
  }
  return sum;
}

struct SpectralXyz {
  AbsoluteXyz<> xyz;          ///< cd/m2
  MatchingFunctions missing;  ///< see SpectralWeights
};

/// X, Y, Z in cd/m2 of a spectral radiance in W/(sr m2 nm).
/// exact   a 1 nm spectrum over the whole table gives the plain sum; errors and sources as spectral_weights
[[nodiscard]] Result<SpectralXyz> xyz_from_radiance(const Spectrum& radiance, const XyzMethod& method = {});

}  // namespace provenit::colour
