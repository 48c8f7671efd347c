// Spectral tables against each other and against their formulas.
#include <algorithm>
#include <cmath>

#include "provenit/colour/cct.h"
#include "provenit/colour/daylight.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/planck.h"
#include "reference_csv.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

/// CIE 170-2:2015, 2 degree: cone fundamentals to x_F, y_F, z_F. Digits from memory; the check itself bears them out.
constexpr double kFromCones[3][3] = {
    {1.94735469, -1.41445123, 0.36476327}, {0.68990272, 0.34832189, 0}, {0, 0, 1.93485343}};

double largest_difference_of_v() {
  double worst = 0;
  for (double nm = 380; nm <= 780; nm += 1)
    worst = std::max(worst, std::abs(photopic_efficiency({nm}) - matching_functions(Observer::cie1931_2deg, {nm}).y));
  return worst;
}

double largest_difference_from_cones() {
  double worst = 0;
  for (double nm = 390; nm <= 830; nm += 1) {
    const auto c = cone_fundamentals({nm});
    const auto m = matching_functions(Observer::cie2015_2deg, {nm});
    const double wanted[3] = {m.x, m.y, m.z};
    for (int i = 0; i < 3; ++i)
      worst = std::max(worst,
                       std::abs(kFromCones[i][0] * c.l + kFromCones[i][1] * c.m + kFromCones[i][2] * c.s - wanted[i]));
  }
  return worst;
}

/// D65 is daylight at 6500 K x 1.4388/1.438; its table was made at 10 nm steps and rounded.
double largest_difference_of_d65() {
  const auto rebuilt = daylight_spectrum({.kelvin = 6500 * 1.4388 / 1.438});
  const auto d65 = illuminant("D65");
  if (!rebuilt || !d65) return NAN;
  double worst = 0;
  for (int i = 0; i < d65->size(); i += 2) worst = std::max(worst, std::abs(rebuilt->values[i] - d65->values[i]));
  return worst;
}

double largest_difference_of_d65_steps() {
  const auto fine = illuminant_d65_1nm();
  const auto d65 = illuminant("D65");
  if (!d65) return NAN;
  double worst = 0;
  for (std::size_t i = 0; i < d65->values.size(); ++i)
    worst = std::max(worst, std::abs(fine.values[5 * i] - d65->values[i]));
  return worst;
}

double largest_ratio_of_a() {
  const auto a = illuminant("A");
  if (!a) return NAN;
  double worst = 0;
  for (int i = 0; i < a->size(); ++i)
    worst = std::max(worst, std::abs(a->values[i] / illuminant_a_power({a->wavelength_nm(i)}) - 1));
  return worst;
}

/// The feet of the isotemperature lines lie on the locus, and the method gives each foot its own temperature.
void check_isotemperature_lines(std::vector<Row>& rows) {
  const auto csv = reference_csv("robertson1968_isotemperature.csv");
  for (const auto& line : csv.lines) {
    const double mired = line.at(0);
    const auto p = planckian_locus({.kelvin = mired > 0 ? 1e6 / mired : 1e12});
    const auto id = "isotemperature-" + line.cells[0];
    rows.push_back(reference_row(csv, &line, id, "u v of the Planckian locus", {line.at(1), line.at(2)},
                                 {p.uv.u, p.uv.v}, "abs:1e-5"));
    if (mired < 10) continue;
    const auto c = cct_duv_robertson({line.at(1), line.at(2)});
    rows.push_back(reference_row(csv, &line, id + "-foot", "CCT of the line's foot by Robertson", {1e6 / mired},
                                 {c ? c->cct_kelvin : NAN}, "rel:1e-9"));
  }
}

}  // namespace

void check_spectral_tables(std::vector<Row>& rows) {
  const auto add = [&rows](const char* file, const char* id, const char* quantity, double got, const char* tolerance) {
    rows.push_back(reference_row(reference_csv(file), nullptr, id, quantity, {0}, {got}, tolerance));
  };
  add("luminous_efficiency_1nm.csv", "v-is-ybar", "largest difference of V and y bar (1931)", largest_difference_of_v(),
      "abs:1e-12");
  add("cie2006_lms_2deg_1nm.csv", "cones-to-2015", "largest difference of cone fundamentals x matrix and CIE 2015 2deg",
      largest_difference_from_cones(), "abs:1e-5");
  add("daylight_components.csv", "daylight-is-d65", "largest difference of S0 + M1 S1 + M2 S2 and D65 at 10 nm",
      largest_difference_of_d65(), "abs:5.01e-4");
  add("illuminant_d65_1nm.csv", "d65-steps", "largest difference of D65 at 1 nm and at 5 nm",
      largest_difference_of_d65_steps(), "abs:6e-5");
  add("illuminants_other.csv", "a-formula", "largest relative difference of A and its formula", largest_ratio_of_a(),
      "abs:6e-6");
  check_isotemperature_lines(rows);
}

}  // namespace provenit::selfcheck
