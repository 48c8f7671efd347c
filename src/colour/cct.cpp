#include "provenit/colour/cct.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "provenit/colour/planck.h"

namespace provenit::colour {
namespace {

constexpr double kLowest = 1000, kHighest = 100000;
constexpr double kGrace = 1e-3;        // results this far outside the range (relative) are still given
constexpr double kTableStep = 1.0025;  // ratio of neighbouring temperatures
constexpr double kTriangularBelow = 0.002;

struct TableRow {
  double kelvin = 0;
  Uv1960<> uv;
};

/// The locus from a little below the range to a little above, so that both ends have neighbours.
const std::vector<TableRow>& locus_table() {
  static const std::vector<TableRow> table = [] {
    std::vector<TableRow> rows;
    for (double t = kLowest / 1.01; t < kHighest * 1.01 * kTableStep; t *= kTableStep)
      rows.push_back({t, planckian_locus({.kelvin = t}).uv});
    return rows;
  }();
  return table;
}

double distance(const Uv1960<>& a, const Uv1960<>& b) {
  return std::hypot(a.u - b.u, a.v - b.v);
}

tl::unexpected<Error> outside(const Uv1960<>& uv, bool hot) {
  return fail(ErrorCode::out_of_range,
              fmt::format("u {:.6f}, v {:.6f} has a CCT {} {} K", uv.u, uv.v, hot ? "above" : "below",
                          hot ? kHighest : kLowest),
              "Describe this colour by its chromaticity instead.");
}

bool in_range(double kelvin) {
  return kelvin >= kLowest * (1 - kGrace) && kelvin <= kHighest * (1 + kGrace);
}

/// The nearest row that has a neighbour on either side.
Result<std::size_t> nearest_row(const Uv1960<>& uv) {
  if (!std::isfinite(uv.u) || !std::isfinite(uv.v))
    return fail(ErrorCode::invalid_input, "u or v is not a finite number",
                "Black has no chromaticity: leave this reading out.");
  const auto& table = locus_table();
  std::size_t best = 0;
  double best_distance = distance(uv, table[0].uv);
  for (std::size_t i = 1; i < table.size(); ++i)
    if (const double d = distance(uv, table[i].uv); d < best_distance) {
      best = i;
      best_distance = d;
    }
  if (best == 0 || best + 1 == table.size()) return outside(uv, best != 0);
  return best;
}

/// Half the slope of the squared distance by r, and the slope of that; zero at the nearest point.
struct Descent {
  LocusPoint point;
  double slope = 0, curvature = 0;
};

Descent descent_at(const Uv1960<>& uv, double r) {
  const auto p = planckian_locus({.kelvin = 1 / r});
  const double du = p.uv.u - uv.u, dv = p.uv.v - uv.v;
  return {p, du * p.du_dr + dv * p.dv_dr, p.du_dr * p.du_dr + p.dv_dr * p.dv_dr + du * p.d2u_dr2 + dv * p.d2v_dr2};
}

CctSolution solution_at(const Uv1960<>& uv, double r, const Descent& d) {
  const double speed = std::hypot(d.point.du_dr, d.point.dv_dr);
  const double nu = -d.point.dv_dr / speed, nv = d.point.du_dr / speed;  // left of growing r, so upwards
  const double dcct_dr = -1 / (r * r);
  return {.cct_kelvin = 1 / r,
          .duv = nu * (uv.u - d.point.uv.u) + nv * (uv.v - d.point.uv.v),
          .dcct_du = dcct_dr * d.point.du_dr / d.curvature,
          .dcct_dv = dcct_dr * d.point.dv_dr / d.curvature,
          .dduv_du = nu,
          .dduv_dv = nv};
}

/// Nearest point on the chord between the neighbours, as if the locus were straight there.
CctDuv<> triangular(const Uv1960<>& uv, const TableRow& low, const TableRow& high) {
  const double d1 = distance(uv, low.uv), d2 = distance(uv, high.uv), l = distance(low.uv, high.uv);
  const double x = (d1 * d1 - d2 * d2 + l * l) / (2 * l);
  const double on_chord_v = low.uv.v + (high.uv.v - low.uv.v) * x / l;
  const double duv = std::sqrt(std::max(0.0, d1 * d1 - x * x));
  return {low.kelvin + (high.kelvin - low.kelvin) * x / l, uv.v < on_chord_v ? -duv : duv};
}

/// Minimum of the parabola through the three distances by temperature.
CctDuv<> parabolic(const Uv1960<>& uv, const TableRow* rows) {
  double t[3], d[3];
  for (int i = 0; i < 3; ++i) {
    t[i] = rows[i].kelvin - rows[1].kelvin;
    d[i] = distance(uv, rows[i].uv);
  }
  const double s01 = (d[1] - d[0]) / (t[1] - t[0]), s12 = (d[2] - d[1]) / (t[2] - t[1]);
  const double a = (s12 - s01) / (t[2] - t[0]);
  const double b = s01 - a * (t[0] + t[1]);
  const double at = -b / (2 * a);
  const double duv = d[1] + at * (b + a * at);
  const double x = at < 0 ? (at - t[0]) / (t[1] - t[0]) : 1 + at / t[2];  // rows from the first
  const int first = at < 0 ? 0 : 1;
  const double locus_v = rows[first].uv.v + (rows[first + 1].uv.v - rows[first].uv.v) * (x - first);
  return {rows[1].kelvin + at, uv.v < locus_v ? -duv : duv};
}

}  // namespace

Result<CctSolution> solve_cct(const Uv1960<>& uv) {
  const auto nearest = nearest_row(uv);
  if (!nearest) return tl::unexpected(nearest.error());
  const auto& table = locus_table();
  double low = 1 / table[*nearest + 1].kelvin, high = 1 / table[*nearest - 1].kelvin;
  double r = 1 / table[*nearest].kelvin;
  Descent d = descent_at(uv, r);
  for (int i = 0; i < 60; ++i) {
    (d.slope > 0 ? high : low) = r;
    double next = r - d.slope / d.curvature;
    if (!(d.curvature > 0) || next <= low || next >= high) next = low + (high - low) / 2;
    const bool settled = std::abs(next - r) <= 1e-13 * r;
    r = next;
    if (settled) break;
    d = descent_at(uv, r);
  }
  if (!in_range(1 / r)) return outside(uv, 1 / r > kHighest);
  return solution_at(uv, r, d);
}

Result<CctDuv<>> cct_duv_ohno(const Uv1960<>& uv) {
  const auto nearest = nearest_row(uv);
  if (!nearest) return tl::unexpected(nearest.error());
  const TableRow* rows = &locus_table()[*nearest - 1];
  auto result = triangular(uv, rows[0], rows[2]);
  if (std::abs(result.duv) >= kTriangularBelow) result = parabolic(uv, rows);
  if (!in_range(result.cct_kelvin)) return outside(uv, result.cct_kelvin > kHighest);
  return result;
}

}  // namespace provenit::colour
