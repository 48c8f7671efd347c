// Tables of colours: CIEDE2000 pairs, the surface chart, the test samples' Munsell names.
#include <algorithm>
#include <cmath>

#include "provenit/base/text.h"
#include "provenit/colour/adaptation.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/reflectance.h"
#include "reference_csv.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

void check_ciede2000_pairs(std::vector<Row>& rows) {
  const auto csv = reference_csv("ciede2000_sharma34.csv");
  for (const auto& line : csv.lines) {
    const Lab<> a{line.at(1), line.at(2), line.at(3)}, b{line.at(4), line.at(5), line.at(6)};
    rows.push_back(
        reference_row(csv, &line, "sharma-" + line.cells[0], "ciede2000", {line.at(7)}, {ciede2000(a, b)}, "abs:5e-5"));
  }
}

/// Chromaticity and Y (%) under D65 of a colour given for C with Y relative to magnesium oxide.
/// source  ASTM D1535: magnesium oxide reflects 0.975 of the perfect diffuser; CAT16
std::vector<double> adapted_to_d65(const ReferenceCsv::Line& line) {
  constexpr Xy<> c_white{.x = 0.31006, .y = 0.31616};
  const auto m = adaptation_matrix(AdaptationTransform::cat16, white_xyz(c_white), white_xyz(d65_video));
  const auto c = adapted(xyz_from_xy(Xy<>{line.at(1), line.at(2)}, Relative<>{0.975 * line.at(3) / 100}), m);
  const auto xy = xy_from_xyz(c);
  return {xy.x, xy.y, 100 * c.Y};
}

/// The place of the smallest of the three gamuts that holds the colour.
double smallest_gamut(const RelativeXyz<>& c) {
  double place = 0;
  for (const auto& p : {bt709_primaries, p3_d65_primaries, bt2020_primaries}) {
    const auto rgb = rgb_from_xyz(c, xyz_to_rgb_matrix(p));
    if (std::min({rgb.r, rgb.g, rgb.b}) >= 0 && std::max({rgb.r, rgb.g, rgb.b}) <= 1) return place;
    ++place;
  }
  return place;
}

void check_surface_chart(std::vector<Row>& rows) {
  const auto csv = reference_csv("surface_chart_munsell.csv");
  constexpr std::string_view names[] = {"BT.709", "P3-D65", "BT.2020"};
  for (const auto& line : csv.lines) {
    const auto& notation = line.cells[0];
    // The neutrals' Y for C was rounded after their Y for D65 had been computed; the others' was published as it
    // stands.
    const char* tolerance = notation.starts_with("N ") ? "rel:2e-5" : "rel:3e-6";
    rows.push_back(reference_row(csv, &line, "chart " + notation, "x y Y under D65 by CAT16",
                                 {line.at(4), line.at(5), line.at(6)}, adapted_to_d65(line), tolerance));
    const auto name = std::find(std::begin(names), std::end(names), line.cells.back()) - std::begin(names);
    const auto c = xyz_from_xy(Xy<>{line.at(4), line.at(5)}, Relative<>{line.at(6) / 100});
    rows.push_back(reference_row(csv, &line, "chart " + notation + " gamut", "smallest of BT.709, P3-D65, BT.2020",
                                 {static_cast<double>(name)}, {smallest_gamut(c)}, "exact"));
  }
}

/// Munsell value of a luminance factor in %, 0 to 100, by the fifth-degree function turned round by halving.
/// source  ASTM D1535 (function relative to the perfect diffuser), from memory
double munsell_value(double Y) {
  const auto luminance = [](double v) {
    return v * (1.1914 + v * (-0.22533 + v * (0.23352 + v * (-0.020484 + v * 0.00081939))));
  };
  double low = 0, high = 10;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (luminance(middle) < Y ? low : high) = middle;
  }
  return low;
}

/// The number before the slash of "7.5 R 6/4".
double value_in(const std::string& notation) {
  const auto words = split(notation, ' ');
  return parse_double(split(words.back(), '/')[0]).value_or(NAN);
}

void check_test_samples(std::vector<Row>& rows) {
  const auto csv = reference_csv("cie_tcs_names.csv");
  for (const auto& line : csv.lines) {
    const auto sample = test_colour_sample(line.cells[0]);
    const auto c = illuminant("C");
    const auto xyz = sample && c ? xyz_from_reflectance(*sample, *c, Observer::cie1931_2deg)
                                 : Result<RelativeXyz<>>(RelativeXyz<>{NAN, NAN, NAN});
    rows.push_back(reference_row(csv, &line, line.cells[0] + " value", "Munsell value under C",
                                 {value_in(line.cells[1])}, {munsell_value(xyz ? 100 * xyz->Y : NAN)}, "abs:0.25"));
  }
}

}  // namespace

void check_colour_tables(std::vector<Row>& rows) {
  check_ciede2000_pairs(rows);
  check_surface_chart(rows);
  check_test_samples(rows);
}

}  // namespace provenit::selfcheck
