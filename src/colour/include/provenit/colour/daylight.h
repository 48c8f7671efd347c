#pragma once
// CIE daylight of any correlated colour temperature.
#include "provenit/colour/quantities.h"
#include "provenit/colour/spectrum.h"

namespace provenit::colour {

/// Chromaticity (CIE 1931) on the CIE daylight locus.
/// in      T goes into the formula as given; for a nominal D illuminant scale it first by 1.4388/1.438 (D65: 6503.6 K)
/// range   4000 to 25000 K
/// errors  out_of_range
/// source  CIE 15:2018; ISO/CIE 11664-2:2022
[[nodiscard]] Result<Xy<>> daylight_xy(Temperature temperature);

/// Relative spectral power S0 + M1 S1 + M2 S2, 300-830 nm at 5 nm, 100 at 560 nm.
/// m_decimals  decimals kept of M1 and M2; 3 is what CIE 15 asks for, negative keeps all
/// errors, source  as daylight_xy; S0, S1, S2 from CIE 15:2004 table T.2
[[nodiscard]] Result<Spectrum> daylight_spectrum(Temperature temperature, int m_decimals = 3);

}  // namespace provenit::colour
