#pragma once
// Readings as light: conversions from the forms in which instruments and files give them, refusing what no light can
// have. Private to the library.
#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spectrum_xyz.h"
#include "provenit/instrument/instrument.h"

namespace provenit::instrument {

/// Refuses x, y outside -0.02 <= x <= 0.80, 0 < y <= 0.90, x + y <= 1.02: the spectrum locus of the CIE 1931 observer
/// (x <= 0.735, y <= 0.834, x + y <= 1) with room for a meter's error on narrow-band primaries. The room is our choice.
[[nodiscard]] Result<void> check_chromaticity(const colour::Xy<>& c);

/// Refuses XYZ whose chromaticity no light has, and Y < -dim_cdm2. Where |X| + |Y| + |Z| < 3 dim_cdm2 the chromaticity
/// is not judged: noise may give a dark reading any.
[[nodiscard]] Result<void> check_xyz(const colour::AbsoluteXyz<>& xyz, double dim_cdm2);

/// Errors: those of check_chromaticity; out_of_range for Y < -dim_cdm2.
[[nodiscard]] Result<colour::AbsoluteXyz<>> xyz_from_Yxy(double Y, const colour::Xy<>& c, double dim_cdm2);
/// u'v' through x = 9u'/(6u'-16v'+12), y = 4v'/(6u'-16v'+12) (ISO/CIE 11664-5).
[[nodiscard]] Result<colour::AbsoluteXyz<>> xyz_from_Yuv(double Y, const colour::UvPrime<>& c, double dim_cdm2);

/// Largest share of a matching function that may lie outside a spectrum's range before its XYZ is refused. Our choice:
/// 400 to 700 nm still passes for the 1931 observer.
inline constexpr double kMissingShareLimit = 0.01;
/// XYZ by the method. Errors: those of colour::xyz_from_radiance; out_of_range if the spectrum covers too little.
[[nodiscard]] Result<colour::AbsoluteXyz<>> xyz_from_spectrum(const SpectralReading& spectrum,
                                                              const colour::XyzMethod& method);

/// Start and step of wavelengths that rise by equal steps (within 1 % of a step, as printed wavelengths are rounded).
/// Errors: invalid_input naming the first that does not fit; fewer than two wavelengths.
struct WavelengthGrid {
  double start_nm = 0, step_nm = 0;
};
[[nodiscard]] Result<WavelengthGrid> grid_of(const std::vector<double>& wavelengths_nm);

}  // namespace provenit::instrument
