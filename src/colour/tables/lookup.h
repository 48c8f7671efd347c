#pragma once
// Linear look-up in a spectral table.
#include <algorithm>

#include "tables/tables.h"

namespace provenit::colour::tables {

/// Where a wavelength falls in a table: row and the share of the next row; inside = false out of the table's range.
struct Place {
  bool inside = false;
  int row = 0;
  double fraction = 0;
};

inline Place place_of(const Table& table, double nm) {
  const double position = (nm - table.start_nm) / table.step_nm;
  if (!(position >= 0) || position > table.rows - 1) return {};
  const int row = std::min(static_cast<int>(position), table.rows - 2);
  return {true, row, position - row};
}

inline double interpolate(const Table& table, const Place& place, int column) {
  if (!place.inside) return 0;
  if (place.fraction == 0) return table.at(place.row, column);
  return (1 - place.fraction) * table.at(place.row, column) + place.fraction * table.at(place.row + 1, column);
}

}  // namespace provenit::colour::tables
