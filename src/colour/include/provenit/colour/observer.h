#pragma once
// Standard observers: what turns a spectrum into X, Y, Z.
#include <array>
#include <optional>
#include <string_view>

#include "provenit/colour/quantities.h"

namespace provenit::colour {

enum class Observer { cie1931_2deg, cie1964_10deg, cie2015_2deg, cie2015_10deg };

inline constexpr std::array kObservers{Observer::cie1931_2deg, Observer::cie1964_10deg, Observer::cie2015_2deg,
                                       Observer::cie2015_10deg};

/// Km of photometry, lm/W, as the definition of X, Y, Z in cd/m2 uses it here for every observer.
/// CIE gives 683.002 as the exact consequence of its definition at 555 nm in air; 683 is what instruments use.
/// CIE 170-2 has constants of its own for the 2015 observers, not used here: their Y_F is then not luminance.
inline constexpr double kMaximumLuminousEfficacy = 683.0;

/// Matching functions x, y, z (or x_F, y_F, z_F) at one wavelength.
struct MatchingFunctions {
  double x = 0, y = 0, z = 0;
};

/// The range of the observer's 1 nm table: 360 to 830 nm (1931, 1964), 390 to 830 nm (2015).
struct WavelengthRange {
  double first_nm = 0, last_nm = 0;
};
[[nodiscard]] WavelengthRange range_of(Observer observer);

/// Table value at whole nanometres, linear in between; 0 outside the table's range (never extrapolated).
/// source  ISO/CIE 11664-1:2019 (1931, 1964); CIE 170-2:2015 (2015), tables at 1 nm
[[nodiscard]] MatchingFunctions matching_functions(Observer observer, Wavelength wavelength);

/// Sums of the observer's whole 1 nm table; an equal-energy spectrum of 1 W/(sr m2 nm) gives Km times these.
[[nodiscard]] MatchingFunctions table_sums(Observer observer);

/// "CIE 1931 2deg", "CIE 1964 10deg", "CIE 2015 2deg", "CIE 2015 10deg".
[[nodiscard]] std::string_view name_of(Observer observer);
[[nodiscard]] std::optional<Observer> observer_named(std::string_view name);

/// Cone fundamentals l, m, s of the 2 degree observer, energy units, peak 1; 390 to 830 nm at 1 nm, linear in between,
/// 0 outside. source  CIE 170-1:2006 (Stockman and Sharpe)
struct ConeFundamentals {
  double l = 0, m = 0, s = 0;
};
[[nodiscard]] ConeFundamentals cone_fundamentals(Wavelength wavelength);

/// Photopic V (CIE 1924) and scotopic V' (CIE 1951), 380 to 780 nm at 1 nm, linear in between, 0 outside.
/// source  ISO 23539:2005 / CIE S 010
[[nodiscard]] double photopic_efficiency(Wavelength wavelength);
[[nodiscard]] double scotopic_efficiency(Wavelength wavelength);

}  // namespace provenit::colour
