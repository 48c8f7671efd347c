#pragma once
// A spectral quantity on equal wavelength steps, its interpolation and its bandpass correction.
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"

namespace provenit::colour {

/// Sample i stands at start_nm + i * step_nm. Unit of the values: W/(sr m2 nm) for the radiance of a display; relative
/// for an illuminant; a factor 0 to 1 for a reflectance. The function that takes one says which.
struct Spectrum {
  double start_nm = 0;
  double step_nm = 1;
  std::vector<double> values;

  [[nodiscard]] int size() const { return static_cast<int>(values.size()); }
  [[nodiscard]] double wavelength_nm(int i) const { return start_nm + i * step_nm; }
  [[nodiscard]] double end_nm() const { return wavelength_nm(size() - 1); }
};

/// Errors: invalid_input naming start, step or the sample: start <= 0, step <= 0, fewer than two samples, a value that
/// is not finite. Negative values are allowed: a reading near the dark floor has them, and clipping would bias a sum.
[[nodiscard]] Result<void> validate(const Spectrum& spectrum);

enum class Interpolation {
  linear,
  sprague  ///< fifth-degree, through every sample; for smooth spectra only: it overshoots beside narrow lines
};

/// The spectrum at start_nm + j * step_nm, j = 0 .. count-1; a target on a sample returns that sample unchanged.
/// range   every target within [first sample, last sample]: nothing is extrapolated
/// errors  those of validate; out_of_range for a target outside; invalid_input for sprague with fewer than 6 samples,
///         for step_nm <= 0 or count < 1
/// exact   sprague: polynomials of fourth degree; in the two intervals at either end, straight lines
/// source  sprague: CIE 167:2005 (Sprague 1880; two boundary points each side from the outer six samples, Table V)
[[nodiscard]] Result<Spectrum> interpolated(const Spectrum& spectrum, double start_nm, double step_nm, int count,
                                            Interpolation method);

/// Undoes the widening by a triangular bandpass whose full width at half maximum equals the step:
///   S_i = -a M_(i-1) + (1 + 2a) M_i - a M_(i+1), a = 0.083; the outer samples use their one neighbour.
/// when not  bandwidth other than the step; spectra with lines narrower than the bandwidth (a line's width is lost for
///           good; only its area is kept); noise grows by up to 1 + 4a
/// errors    those of validate
/// source    Stearns and Stearns, Color Res. Appl. 13(4), 257-259, 1988; see CIE 214:2014
[[nodiscard]] Result<Spectrum> bandpass_corrected(const Spectrum& spectrum);

/// One sample's share of an interpolated value.
struct InterpolationTaps {
  int first = 0;  ///< index of the first sample used
  int count = 0;  ///< 1 (on a sample), 2 (linear) or 6 (sprague)
  double weight[6] = {0, 0, 0, 0, 0, 0};
};

/// Weights of the samples for the value at `position` = (wavelength - start) / step in [0, samples - 1]; samples >= 6
/// for sprague, >= 2 for linear. The linear operator behind `interpolated`; uncertainty can flow through it.
[[nodiscard]] InterpolationTaps interpolation_taps(int samples, double position, Interpolation method);

}  // namespace provenit::colour
