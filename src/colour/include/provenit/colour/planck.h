#pragma once
// Planck's law and the Planckian locus in CIE 1960 u, v.
#include "provenit/colour/quantities.h"
#include "provenit/colour/spectrum.h"

namespace provenit::colour {

/// Second radiation constant c2 = h c / k, m K. CCT is defined by the ITS-90 value; it moves CCT by 16 ppm against the
/// exact value of the SI of 2019.
inline constexpr double kC2Its90 = 1.4388e-2;
inline constexpr double kC2Si2019 = 1.438776877e-2;

/// Spectral radiance of a black body in vacuum, W/(sr m2 nm).
/// range   wavelength > 0, temperature > 0
/// source  L = 2 h c^2 / (l^5 (exp(c2/(l T)) - 1)); h, c exact in the SI of 2019
[[nodiscard]] double planck_radiance(Wavelength wavelength, Temperature temperature, double c2_mk = kC2Si2019);

/// The same on equal steps.
/// errors  out_of_range for temperature <= 0; those of validate(Spectrum)
[[nodiscard]] Result<Spectrum> planck_spectrum(Temperature temperature, double start_nm, double step_nm, int count,
                                               double c2_mk = kC2Si2019);

/// A point of the Planckian locus and its first and second derivatives by reciprocal temperature r = 1/T (1/K), in
/// which the locus is smooth up to infinite temperature.
struct LocusPoint {
  Uv1960<> uv;
  double du_dr = 0, dv_dr = 0;
  double d2u_dr2 = 0, d2v_dr2 = 0;
};

/// CIE 1931 2 degree observer, sum at 1 nm over 360-830 nm, c2 = 1.4388e-2 m K (as CCT needs it).
/// range   temperature 500 K and above; exact within 1e-15 of the sum
/// source  CIE 15:2018 (definition of CCT)
[[nodiscard]] LocusPoint planckian_locus(Temperature temperature);

}  // namespace provenit::colour
