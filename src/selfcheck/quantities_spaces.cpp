// Colour spaces, differences, adaptation, CCT and their uncertainty.
#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/colour/adaptation.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/chromaticity_uncertainty.h"
#include "provenit/colour/daylight.h"
#include "provenit/colour/difference.h"
#include "quantity.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

Values of(const Ictcp<>& c) {
  return {c.i, c.ct, c.cp};
}

Ictcp<> ictcp(Reader& in, std::string_view key) {
  const auto v = in.vector<3>(key);
  return {.i = v[0], .ct = v[1], .cp = v[2]};
}
Lab<> lab(Reader& in, std::string_view key) {
  const auto v = in.vector<3>(key);
  return {.L = v[0], .a = v[1], .b = v[2]};
}

Values ictcp_pq(Reader& in) {
  return of(ictcp_from_pq_rgb(in.rgb<AbsoluteRgb>("RGB_bt2020_cdm2")));
}
Values ictcp_hlg(Reader& in) {
  return of(ictcp_from_hlg_rgb(in.rgb<RelativeRgb>("RGB_bt2020_scene")));
}

Values itp(Reader& in) {
  return {delta_e_itp(ictcp_from_pq_rgb(in.rgb<AbsoluteRgb>("RGB1_bt2020_cdm2")),
                      ictcp_from_pq_rgb(in.rgb<AbsoluteRgb>("RGB2_bt2020_cdm2")))};
}
Values itp_from_ictcp_pair(Reader& in) {
  return {delta_e_itp(ictcp(in, "ICtCp1"), ictcp(in, "ICtCp2"))};
}

Values cielab(Reader& in) {
  const auto c = lab_from_xyz(in.xyz<AbsoluteXyz>("XYZ"), in.xyz<AbsoluteXyz>("XYZ_n"));
  return {c.L, c.a, c.b};
}
Values cieluv(Reader& in) {
  const auto c = luv_from_xyz(in.xyz<AbsoluteXyz>("XYZ"), in.xyz<AbsoluteXyz>("XYZ_n"));
  return {c.L, c.u, c.v};
}
Values uv_from_xyz(Reader& in) {
  const auto c = uv_prime_from_xyz(in.xyz<AbsoluteXyz>("XYZ"));
  return {c.u, c.v};
}
Values uv_from_xy(Reader& in) {
  const auto c = uv_prime_from_xy(Xy<>{.x = in.number("x"), .y = in.number("y")});
  return {c.u, c.v};
}

Values de2000(Reader& in) {
  const auto factor = [&in](std::string_view key) { return in.has(key) ? in.positive(key) : 1.0; };
  return {ciede2000(lab(in, "Lab1"), lab(in, "Lab2"), {.kL = factor("kL"), .kC = factor("kC"), .kH = factor("kH")})};
}

/// A point given as CIE 1960 u, v or as x, y.
Uv1960<> point(Reader& in) {
  if (in.has("x")) return uv1960_from_xy(Xy<>{.x = in.number("x"), .y = in.number("y")});
  return {.u = in.number("u"), .v = in.number("v")};
}
CctSolution cct_solution(Reader& in) {
  const auto solution = solve_cct(point(in));
  if (!solution) in.fail("inputs", solution.error());
  return solution.value_or(CctSolution{});
}
Values cct(Reader& in) {
  return {cct_solution(in).cct_kelvin};
}
Values duv(Reader& in) {
  return {cct_solution(in).duv};
}
Values robertson(Reader& in) {
  const auto c = cct_duv_robertson(point(in));
  if (!c) in.fail("inputs", c.error());
  return c ? Values{c->cct_kelvin, c->duv} : Values{0, 0};
}
Values daylight(Reader& in) {
  const auto c = daylight_xy({.kelvin = in.number("T")});
  if (!c) in.fail("T", c.error());
  return c ? Values{c->x, c->y} : Values{0, 0};
}

Matrix3<> adaptation(Reader& in) {
  static constexpr std::array<std::string_view, 3> names{"Bradford", "CAT16", "CAT02"};
  static constexpr std::array transforms{AdaptationTransform::bradford, AdaptationTransform::cat16,
                                         AdaptationTransform::cat02};
  in.note("complete adaptation");
  const auto from = white_xyz(in.xy("white_from_xy")), to = white_xyz(in.xy("white_to_xy"));
  return adaptation_matrix(transforms[in.choice("transform", names)], from, to);
}
Values adapted_xyz(Reader& in) {
  const auto c = adapted(in.xyz<RelativeXyz>("XYZ"), adaptation(in));
  return {c.X, c.Y, c.Z};
}
Values adaptation_entries(Reader& in) {
  return entries_of(adaptation(in), in.row_major());
}

Values xy_standard_uncertainty(Reader& in) {
  in.note("first order");
  const auto u = in.vector<3>("u_XYZ");
  const auto r = in.vector<3>("r_XY r_XZ r_YZ");
  for (const double part : u)
    if (part < 0) in.fail("u_XYZ", fmt::format("{} is no standard uncertainty", part), "Give 0 or more.");
  for (const double part : r)
    if (part < -1 || part > 1) in.fail("r_XY r_XZ r_YZ", fmt::format("{} is no correlation", part), "Give -1 to 1.");
  const auto result = xy_uncertainty(in.xyz<AbsoluteXyz>("XYZ"), covariance_of(u, r[0], r[1], r[2]));
  const std::string_view wanted = in.has("output") ? in.text("output") : "u_x u_y r_xy";
  Values out;
  for (const auto word : split(wanted, ' ')) {
    if (word == "u_x")
      out.push_back(result.u_first);
    else if (word == "u_y")
      out.push_back(result.u_second);
    else if (word == "r_xy")
      out.push_back(result.correlation);
    else if (!word.empty())
      in.fail("output", fmt::format("'{}' is no output", word), "Known: u_x, u_y, r_xy.");
  }
  return out;
}

constexpr Quantity kSpacesQuantities[] = {
    {"ictcp_pq", ictcp_pq},
    {"ictcp_hlg", ictcp_hlg},
    {"delta_e_itp", itp},
    {"delta_e_itp_from_ictcp", itp_from_ictcp_pair},
    {"cielab", cielab},
    {"cieluv", cieluv},
    {"uv_prime_from_xyz", uv_from_xyz},
    {"uv_prime_from_xy", uv_from_xy},
    {"ciede2000", de2000},
    {"cct", cct},
    {"duv", duv},
    {"cct_duv_robertson1968", robertson},
    {"cie_daylight_xy", daylight},
    {"chromatic_adaptation", adapted_xyz},
    {"chromatic_adaptation_matrix", adaptation_entries},
    {"xy_standard_uncertainty", xy_standard_uncertainty},
};

}  // namespace

Values entries_of(const Matrix3<>& m, bool row_major) {
  Values out;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) out.push_back(row_major ? m(i, j) : m(j, i));
  return out;
}

std::span<const Quantity> space_quantities() {
  return kSpacesQuantities;
}

}  // namespace provenit::selfcheck
