#pragma once
// A fast colorimeter set right by a spectroradiometer: a 3 x 3 matrix from readings of the same colours by both, for
// one display in one state. What the readings do not know goes on into everything the matrix is used on.
#include <array>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::correct {

using colour::Sources;
using colour::Uncertain;

// The formula, for any scalar ----------------------------------------------------------------------------------------

/// Matrix that maps the colorimeter's chromaticities of red, green, blue and white to the reference's, up to a factor:
///   m = [red green blue] (columns x, y, 1-x-y), M = m diag(m^-1 white); N likewise of the reference; R = N M^-1.
/// exact   all four chromaticities, whatever the luminances of the readings
/// range   neither set of primaries in one line; otherwise entries are not finite
/// source  Ohno, Hardis: Four-Color Matrix Method for Correction of Tristimulus Colorimeters, Proc. IS&T Fifth Color
///         Imaging Conference, 301-305, 1997
template <class T>
[[nodiscard]] colour::Matrix3<T> four_colour_matrix(const std::array<colour::Xy<T>, 4>& colorimeter,
                                                    const std::array<colour::Xy<T>, 4>& reference) {
  const auto weighted = [](const std::array<colour::Xy<T>, 4>& c) {
    const auto z = [&](std::size_t i) { return T(1.0 - c[i].x - c[i].y); };
    const colour::Matrix3<T> m{.row = {{{c[0].x, c[1].x, c[2].x}, {c[0].y, c[1].y, c[2].y}, {z(0), z(1), z(2)}}}};
    return m * colour::diagonal(inverse(m) * colour::Vector3<T>{c[3].x, c[3].y, z(3)});
  };
  return weighted(reference) * inverse(weighted(colorimeter));
}

// From readings ------------------------------------------------------------------------------------------------------

/// One colour, read by both instruments at the same place and angle. Errors that the two share (the display's noise) or
/// that all readings of one instrument share (its scale) are the same sources in each.
struct PairedReading {
  std::string name;  ///< "red"
  colour::AbsoluteXyz<Uncertain> colorimeter, reference;
};

enum class MatrixMethod { four_colour, least_squares };

/// What the matrix leaves of a pair: corrected minus reference.
struct PairResidual {
  std::string name;
  Uncertain du, dv;              ///< u', v'
  Uncertain relative_luminance;  ///< 0.01: 1 % too bright
};

struct InstrumentMatrix {
  MatrixMethod method = MatrixMethod::four_colour;
  colour::Matrix3<Uncertain> matrix;  ///< reference XYZ = matrix x colorimeter XYZ
  std::vector<PairResidual> residuals;
  /// What the noise of the readings does not explain: standard deviations of X, Y and Z, as shares of X + Y + Z. Each
  /// is carried on by itself; what they have in common is not known to the matrix. 0 where there are no more pairs than
  /// the matrix needs: then nothing is known of it.
  colour::Vector3<> misfit{};
  double degrees_of_freedom = 0;  ///< of misfit
  std::array<colour::PoolId, 3> pools{colour::kNoPool, colour::kNoPool,
                                      colour::kNoPool};  ///< of misfit, in the Sources
};

/// From red, green, blue and white, in this order. The chromaticities come out exactly; the luminance is set by white.
/// The residuals of relative_luminance at red, green and blue show what that is worth.
/// when not  displays whose white is not the sum of these primaries in one spectral state: a fourth (white) emitter, a
///           backlight whose spectrum follows the picture. Black must have been taken off, or be far below
/// errors    invalid_input naming the pair: not finite, no light, a chromaticity less certain than 0.005 (too dark or
/// too
///           noisy), pairs that were swapped between the instruments, primaries nearly in one line, a white outside
///           them
[[nodiscard]] Result<InstrumentMatrix> four_colour(std::span<const PairedReading, 4> red_green_blue_white,
                                                   const Sources& sources);

/// From any number of pairs, at least three: the matrix with the least sum of squares of (matrix x colorimeter -
/// reference) / (reference X + Y + Z), all three of X, Y, Z alike, so that dark and bright pairs count the same.
/// With more than three the misfit beyond the readings' noise is found, and carried on as sources of the matrix.
/// errors    as four_colour; also colours that lie too close to one line
/// source    least squares on X, Y, Z as in ASTM E1455 (which names the method; weights as said here are our own)
[[nodiscard]] Result<InstrumentMatrix> least_squares(std::span<const PairedReading> pairs, Sources& sources);

/// A reading of the colorimeter, corrected. Its uncertainty has that of the reading, of the matrix, and the misfit anew
/// (three sources named "colour that the matrix does not fit").
[[nodiscard]] colour::AbsoluteXyz<Uncertain> corrected(const InstrumentMatrix& matrix,
                                                       const colour::AbsoluteXyz<Uncertain>& reading, Sources& sources);

// Does it still hold?
// --------------------------------------------------------------------------------------------------

/// What a matrix belongs to.
struct MatrixConditions {
  std::string display, mode, instrument;
  Timestamp made;
};
inline constexpr Seconds kMatrixAge{.s = 90 * 86400.0};  ///< common practice, no source

/// One sentence for each thing that no longer is as it was: another display, mode or instrument; older than kMatrixAge.
[[nodiscard]] std::vector<std::string> warnings(const MatrixConditions& then, const MatrixConditions& now);

/// Share of the light that lies at other wavelengths than it did: half the sum of the differences of the two spectra,
/// each scaled to a sum of 1. 0: the same shape; 1: nothing in common. Brightness does not count.
/// in      both of the same colour (white, or each primary)
/// errors  those of validate; out_of_range if `now` does not reach as far as `then`; invalid_input for no light
[[nodiscard]] Result<double> moved_light(const colour::Spectrum& then, const colour::Spectrum& now);
inline constexpr double kMovedLightLimit =
    0.02;  ///< common practice, no source; noise of a dark spectrum alone can reach it

/// A pair read later, held against the matrix.
struct PairCheck {
  PairResidual residual;
  double distance = 0;  ///< of (du, dv) from 0 in its own uncertainty, squared: chi-squared with 2 degrees of freedom
  bool holds = true;    ///< distance <= 5.99 (95 %)
};
/// errors  invalid_input for a pair that is not finite or has no light
[[nodiscard]] Result<PairCheck> check(const InstrumentMatrix& matrix, const PairedReading& pair, Sources& sources);

}  // namespace provenit::correct
