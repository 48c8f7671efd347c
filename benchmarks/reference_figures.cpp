// How this build stands against published values: rows of the reference tables, and the stated errors of CCT methods,
// gamut polygons and colour volumes.
#include <algorithm>
#include <cmath>
#include <random>

#include "figure.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/planck.h"
#include "provenit/colour/volume.h"
#include "provenit/selfcheck/selfcheck.h"

namespace provenit::bench {
namespace {

using namespace colour;

std::vector<Figure> rows_passed() {
  const auto table = selfcheck::check_table(selfcheck::built_in_table(), "worked_values.csv").value();
  const auto all = selfcheck::check_built_in();
  const auto figure = [](const char* name, const selfcheck::Report& report) {
    const int passed = report.count(selfcheck::Verdict::pass);
    const auto total = static_cast<int>(report.rows.size() + report.errors.size());
    return Figure{name, static_cast<double>(passed), "rows", fmt::format("= {}", total), total > 0 && passed == total};
  };
  return {figure("reference_rows_passed", table), figure("reference_checks_passed", all)};
}

/// The point at a distance along the normal of the locus: its CCT and Duv are known by construction.
Uv1960<> point_at(double kelvin, double duv) {
  const auto p = planckian_locus({.kelvin = kelvin});
  const double speed = std::hypot(p.du_dr, p.dv_dr);
  return {p.uv.u - duv * p.dv_dr / speed, p.uv.v + duv * p.du_dr / speed};
}

/// Largest relative error of CCT over 400 temperatures and 41 distances.
template <class Method>
double largest_cct_error(double lowest, double highest, double widest_duv, Method method) {
  double worst = 0;
  for (int i = 0; i < 400; ++i)
    for (int j = -20; j <= 20; ++j) {
      const double kelvin = lowest * std::pow(highest / lowest, (i + 0.37) / 400);
      const auto c = method(point_at(kelvin, widest_duv * j / 20));
      worst = std::max(worst, c ? std::abs(c->cct_kelvin / kelvin - 1) : INFINITY);
    }
  return worst;
}

Figure at_most(const char* name, double value, const char* unit, double bar) {
  return {name, value, unit, fmt::format("<= {:g}", bar), value <= bar};
}

std::vector<Figure> cct_errors() {
  const double exact = largest_cct_error(1000, 100000, 0.05, solve_cct);
  // Both the whole plane and the border of Ohno's triangular part, where his method is worst.
  const double ohno = std::max(largest_cct_error(1000, 25000, 0.05, cct_duv_ohno),
                               largest_cct_error(1000, 25000, 0.00199, cct_duv_ohno));
  const double ohno_hot = std::max(largest_cct_error(25000, 100000, 0.05, cct_duv_ohno),
                                   largest_cct_error(25000, 100000, 0.00199, cct_duv_ohno));
  const double robertson = largest_cct_error(1700, 10000, 0.01, cct_duv_robertson);
  return {at_most("cct_solution_max_error", exact, "relative", 1e-9),
          at_most("cct_ohno_max_error", ohno, "relative", 3e-5),
          at_most("cct_ohno_max_error_above_25000_k", ohno_hot, "relative", 3e-5),
          at_most("cct_robertson_max_error", robertson, "relative", 6e-4)};
}

/// Polygons against exact rational arithmetic: the rows of the reference table that have it.
std::vector<Figure> gamut_errors() {
  double worst = 0;
  const auto report = selfcheck::check_table(selfcheck::built_in_table(), "worked_values.csv").value();
  for (const auto& row : report.rows)
    if (row.quantity.starts_with("gamut_")) worst = std::max(worst, row.error);
  return {at_most("gamut_rows_max_error", worst, "absolute", 5e-12)};  // the rows are printed to twelve digits
}

/// CIELAB volume of BT.709 for its white, by counting random points.
double lab_volume_by_counting(const AdditiveDisplay<>& display, int points) {
  const auto white = xyz_from_xy(display.primaries.white, display.peak);
  const auto to_rgb = xyz_to_rgb_matrix(display.primaries);
  std::mt19937_64 random(20260101);
  std::uniform_real_distribution<double> L(0, 100), a(-90, 100), b(-110, 96);
  int inside = 0;
  for (int i = 0; i < points; ++i) {
    const double l = L(random), x = a(random), y = b(random);
    const auto c = rgb_from_xyz(xyz_from_lab(Lab<>{l, x, y}, white), to_rgb);
    inside += std::min({c.r, c.g, c.b}) >= 0 && std::max({c.r, c.g, c.b}) <= display.peak.cdm2;
  }
  return 100.0 * 190 * 206 * inside / points;
}

std::vector<Figure> volume_errors() {
  const AdditiveDisplay<> bt709{bt709_primaries, {100}, {0}}, p3{p3_d65_primaries, {1000}, {0}};
  const double counted = lab_volume_by_counting(bt709, 20'000'000);
  const auto cube = rgb_cube_surface(kVolumeSamples);
  const auto solid = ictcp_solid(cube, surface_light(cube, p3));
  const double columns = volume_overlap(solid, solid).reference / volume(solid) - 1;
  return {at_most("lab_volume_against_counting", 100 * std::abs(lab_volume(bt709) / counted - 1), "%", 0.2),
          at_most("ictcp_volume_by_columns_against_tetrahedra", std::abs(columns), "relative", 1e-5),
          at_most("ictcp_volume_33_against_129_samples", 100 * std::abs(ictcp_volume(p3) / ictcp_volume(p3, 129) - 1),
                  "%", 0.1)};
}

}  // namespace
}  // namespace provenit::bench

int main(int argc, char** argv) {
  using namespace provenit::bench;
  return run(
      argc, argv,
      {{{"reference_rows_passed", "reference_checks_passed"}, rows_passed},
       {{"cct_solution_max_error", "cct_ohno_max_error", "cct_ohno_max_error_above_25000_k", "cct_robertson_max_error"},
        cct_errors},
       {{"gamut_rows_max_error"}, gamut_errors},
       {{"lab_volume_against_counting", "ictcp_volume_by_columns_against_tetrahedra",
         "ictcp_volume_33_against_129_samples"},
        volume_errors}});
}
