#pragma once
// CIE illuminants, relative spectral power.
#include <string_view>
#include <vector>

#include "provenit/colour/spectrum.h"

namespace provenit::colour {

/// The illuminant's table at 5 nm. Names: "D65" (300-780 nm), "A", "C", "D50", "D55", "D75" (300-780 nm), "LED-B1" to
/// "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1", "LED-V2", "FL2", "FL11" (380-780 nm).
/// scale   100 at 560 nm for the daylights, A and C; as published for the others
/// errors  not_found, with the known names
/// source  ISO/CIE 11664-2:2022 (D65); CIE 15:2004 tables T.1, T.6; CIE 15:2018 (LED)
[[nodiscard]] Result<Spectrum> illuminant(std::string_view name);
[[nodiscard]] std::vector<std::string_view> illuminant_names();

/// D65 at 1 nm, 300-830 nm (the standard's 10 nm steps, linear in between).
[[nodiscard]] Spectrum illuminant_d65_1nm();

/// Illuminant A by its formula, 100 at 560 nm; any wavelength above 0.
/// source  ISO/CIE 11664-2:2022 (was ISO 10526): Planck's law at 2848 K with c2 = 1.435e-2 m K
[[nodiscard]] double illuminant_a_power(Wavelength wavelength);

}  // namespace provenit::colour
