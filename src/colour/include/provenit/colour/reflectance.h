#pragma once
// Surface colours: spectral reflectance under an illuminant.
#include <optional>
#include <string_view>
#include <vector>

#include "provenit/colour/observer.h"
#include "provenit/colour/spectrum.h"

namespace provenit::colour {

/// Which wavelengths are summed, and how a table gets its value there.
struct ReflectanceSum {
  double first_nm = 380, last_nm = 780, step_nm = 5;
  /// nullopt: the table must have a sample at every summed wavelength. With a method, it is interpolated; outside its
  /// range it counts as zero.
  std::optional<Interpolation> reflectance_interpolation;
  std::optional<Interpolation> illuminant_interpolation;
};

/// 5 nm summation 380-780 nm, no interpolation (CIE 15:2018, the simplest of its ways).
inline constexpr ReflectanceSum kFiveNanometreSum{};
/// In the manner of ASTM E308: reflectance (Sprague) and illuminant (linear) brought to 1 nm, 360-780 nm. Its printed
/// weighting tables were not available and are not used.
inline constexpr ReflectanceSum kOneNanometreSum{360, 780, 1, Interpolation::sprague, Interpolation::linear};

/// X, Y, Z of a surface, relative to the perfect diffuser (Y = 1): sum(R S m) / sum(S y).
/// in      reflectance 0 to 1; illuminant in any scale
/// errors  those of validate; out_of_range if the sum's range or step cannot be met; invalid_input if sum(S y) <= 0
/// source  ISO/CIE 11664-3:2019; CIE 15:2018
[[nodiscard]] Result<RelativeXyz<>> xyz_from_reflectance(const Spectrum& reflectance, const Spectrum& illuminant,
                                                         Observer observer, const ReflectanceSum& sum = {});

/// X, Y, Z of the perfect diffuser under that illuminant, Y = 1; errors as above.
[[nodiscard]] Result<RelativeXyz<>> xyz_of_illuminant(const Spectrum& illuminant, Observer observer,
                                                      const ReflectanceSum& sum = {});

/// CIE test colour sample "TCS01" to "TCS14", spectral radiance factor, 360-830 nm at 5 nm.
/// errors  not_found, with the known names
/// source  CIE 13.3-1995 table 1
[[nodiscard]] Result<Spectrum> test_colour_sample(std::string_view name);
[[nodiscard]] std::vector<std::string_view> test_colour_sample_names();

}  // namespace provenit::colour
