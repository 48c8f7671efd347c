#include "provenit/colour/illuminant.h"

#include <cmath>

#include "tables/columns.h"

namespace provenit::colour {

Result<Spectrum> illuminant(std::string_view name) {
  if (name == "D65") return tables::spectrum_of(tables::illuminant_d65, 0);
  for (const auto* table : {&tables::illuminants_other, &tables::illuminants_led_fl})
    if (const int column = table->column(name); column >= 0) return tables::spectrum_of(*table, column);
  return tables::no_such_column("illuminant", name, illuminant_names());
}

std::vector<std::string_view> illuminant_names() {
  std::vector<std::string_view> names{"D65"};
  for (const auto* table : {&tables::illuminants_other, &tables::illuminants_led_fl})
    names.insert(names.end(), table->names, table->names + table->columns);
  return names;
}

Spectrum illuminant_d65_1nm() {
  return tables::spectrum_of(tables::illuminant_d65_1nm, 0);
}

double illuminant_a_power(Wavelength wavelength) {
  constexpr double c2_nm_kelvin = 1.435e7, kelvin = 2848, reference_nm = 560;
  const auto planck = [](double nm) { return std::pow(nm, -5) / std::expm1(c2_nm_kelvin / (kelvin * nm)); };
  return 100 * planck(wavelength.nm) / planck(reference_nm);
}

}  // namespace provenit::colour
