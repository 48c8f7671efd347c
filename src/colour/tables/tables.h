#pragma once
// The published tables that are compiled in, one .cpp each, written by generate.py from data/reference. Private to
// colour: observer.h, illuminant.h, reflectance.h, daylight.h and cct.h give them out with their units.
#include <string_view>

namespace provenit::colour::tables {

/// Rows of equal length, row-major. Spectral tables: row i stands at start_nm + i * step_nm; others have step_nm = 0.
struct Table {
  std::string_view file;  ///< the CSV in data/reference that it was made from
  double start_nm = 0;
  double step_nm = 0;
  int rows = 0;
  int columns = 0;
  const std::string_view* names = nullptr;  ///< `columns` names
  const double* values = nullptr;           ///< `rows` * `columns` numbers

  [[nodiscard]] constexpr double at(int row, int column) const { return values[row * columns + column]; }
  [[nodiscard]] constexpr double wavelength_nm(int row) const { return start_nm + row * step_nm; }
  /// The column of that name, or -1.
  [[nodiscard]] constexpr int column(std::string_view name) const {
    for (int i = 0; i < columns; ++i)
      if (names[i] == name) return i;
    return -1;
  }
};

extern const Table cie1931_2deg_1nm, cie1964_10deg_1nm, cie2015_2deg_1nm, cie2015_10deg_1nm, cie2006_lms_2deg_1nm;
extern const Table luminous_efficiency_1nm;
extern const Table illuminant_d65, illuminant_d65_1nm, illuminants_other, illuminants_led_fl, daylight_components;
extern const Table cie_tcs;
extern const Table robertson1968_isotemperature;

}  // namespace provenit::colour::tables
