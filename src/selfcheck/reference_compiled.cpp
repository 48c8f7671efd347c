// The tables that are compiled in are the files, cell by cell.
#include <cmath>
#include <functional>

#include "provenit/colour/illuminant.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/reflectance.h"
#include "reference_csv.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

/// What the library gives for a column at a wavelength.
using Lookup = std::function<double(std::size_t column, const std::string& name, Wavelength at)>;

double sample_at(const Result<Spectrum>& spectrum, Wavelength at) {
  if (!spectrum) return NAN;
  const double position = (at.nm - spectrum->start_nm) / spectrum->step_nm;
  if (!(position >= 0) || position >= spectrum->size() || position != std::floor(position)) return NAN;
  return spectrum->values[static_cast<std::size_t>(position)];
}

Lookup of_observer(Observer observer) {
  return [observer](std::size_t column, const std::string&, Wavelength at) {
    const auto m = matching_functions(observer, at);
    return column == 1 ? m.x : column == 2 ? m.y : m.z;
  };
}

struct Compiled {
  const char* file;
  Lookup lookup;
};

std::vector<Compiled> compiled_tables() {
  const Lookup by_name = [](std::size_t, const std::string& name, Wavelength at) {
    return sample_at(illuminant(name), at);
  };
  return {
      {"cie1931_2deg_1nm.csv", of_observer(Observer::cie1931_2deg)},
      {"cie1964_10deg_1nm.csv", of_observer(Observer::cie1964_10deg)},
      {"cie2015_2deg_1nm.csv", of_observer(Observer::cie2015_2deg)},
      {"cie2015_10deg_1nm.csv", of_observer(Observer::cie2015_10deg)},
      {"cie2006_lms_2deg_1nm.csv",
       [](std::size_t column, const std::string&, Wavelength at) {
         const auto c = cone_fundamentals(at);
         return column == 1 ? c.l : column == 2 ? c.m : c.s;
       }},
      {"luminous_efficiency_1nm.csv",
       [](std::size_t column, const std::string&, Wavelength at) {
         return column == 1 ? photopic_efficiency(at) : scotopic_efficiency(at);
       }},
      {"illuminant_d65.csv",
       [](std::size_t, const std::string&, Wavelength at) { return sample_at(illuminant("D65"), at); }},
      {"illuminant_d65_1nm.csv",
       [](std::size_t, const std::string&, Wavelength at) { return sample_at(illuminant_d65_1nm(), at); }},
      {"illuminants_other.csv", by_name},
      {"illuminants_led_fl.csv", by_name},
      {"cie_tcs.csv",
       [](std::size_t, const std::string& name, Wavelength at) { return sample_at(test_colour_sample(name), at); }},
  };
}

}  // namespace

void check_compiled_tables(std::vector<Row>& rows) {
  for (const auto& table : compiled_tables()) {
    const auto csv = reference_csv(table.file);
    double differ = csv.lines.empty() ? NAN : 0;
    for (const auto& line : csv.lines)
      for (std::size_t c = 1; c < csv.names.size(); ++c)
        if (table.lookup(c, csv.names[c], {.nm = line.at(0)}) != line.at(c)) ++differ;
    rows.push_back(reference_row(csv, nullptr, table.file, "cells that differ from the file", {0}, {differ}, "exact"));
  }
}

}  // namespace provenit::selfcheck
