#include "provenit/colour/observer.h"

#include "tables/lookup.h"

namespace provenit::colour {
namespace {

const tables::Table& table_of(Observer observer) {
  switch (observer) {
    case Observer::cie1931_2deg:
      return tables::cie1931_2deg_1nm;
    case Observer::cie1964_10deg:
      return tables::cie1964_10deg_1nm;
    case Observer::cie2015_2deg:
      return tables::cie2015_2deg_1nm;
    case Observer::cie2015_10deg:
      return tables::cie2015_10deg_1nm;
  }
  return tables::cie1931_2deg_1nm;
}

double efficiency(Wavelength wavelength, int column) {
  const auto& table = tables::luminous_efficiency_1nm;
  return tables::interpolate(table, tables::place_of(table, wavelength.nm), column);
}

}  // namespace

WavelengthRange range_of(Observer observer) {
  const auto& table = table_of(observer);
  return {table.start_nm, table.wavelength_nm(table.rows - 1)};
}

MatchingFunctions matching_functions(Observer observer, Wavelength wavelength) {
  const auto& table = table_of(observer);
  const auto place = tables::place_of(table, wavelength.nm);
  return {tables::interpolate(table, place, 0), tables::interpolate(table, place, 1),
          tables::interpolate(table, place, 2)};
}

MatchingFunctions table_sums(Observer observer) {
  const auto& table = table_of(observer);
  MatchingFunctions sums;
  for (int row = 0; row < table.rows; ++row) {
    sums.x += table.at(row, 0);
    sums.y += table.at(row, 1);
    sums.z += table.at(row, 2);
  }
  return sums;
}

std::string_view name_of(Observer observer) {
  switch (observer) {
    case Observer::cie1931_2deg:
      return "CIE 1931 2deg";
    case Observer::cie1964_10deg:
      return "CIE 1964 10deg";
    case Observer::cie2015_2deg:
      return "CIE 2015 2deg";
    case Observer::cie2015_10deg:
      return "CIE 2015 10deg";
  }
  return "";
}

std::optional<Observer> observer_named(std::string_view name) {
  for (const auto observer : kObservers)
    if (name_of(observer) == name) return observer;
  return std::nullopt;
}

ConeFundamentals cone_fundamentals(Wavelength wavelength) {
  const auto& table = tables::cie2006_lms_2deg_1nm;
  const auto place = tables::place_of(table, wavelength.nm);
  return {tables::interpolate(table, place, 0), tables::interpolate(table, place, 1),
          tables::interpolate(table, place, 2)};
}

double photopic_efficiency(Wavelength wavelength) {
  return efficiency(wavelength, 0);
}
double scotopic_efficiency(Wavelength wavelength) {
  return efficiency(wavelength, 1);
}

}  // namespace provenit::colour
