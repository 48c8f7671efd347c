#include <fmt/format.h>

#include <cmath>

#include "provenit/colour/cct.h"
#include "tables/tables.h"

namespace provenit::colour {
namespace {

/// An isotemperature line: where it leaves the locus and its direction (unit vector pointing up).
struct Line {
  double mired = 0;
  Uv1960<> foot;
  double along_u = 0, along_v = 0;
};

Line line_at(int row) {
  const auto& table = tables::robertson1968_isotemperature;
  const double slope = table.at(row, 3), length = std::hypot(1, slope);
  const double up = slope < 0 ? -1 : 1;
  return {table.at(row, 0), {table.at(row, 1), table.at(row, 2)}, up / length, up * slope / length};
}

/// Signed distance of the point from the line; it changes sign where the line is crossed.
double across(const Uv1960<>& uv, const Line& line) {
  return (uv.u - line.foot.u) * line.along_v - (uv.v - line.foot.v) * line.along_u;
}

}  // namespace

Result<CctDuv<>> cct_duv_robertson(const Uv1960<>& uv) {
  if (!std::isfinite(uv.u) || !std::isfinite(uv.v))
    return fail(ErrorCode::invalid_input, "u or v is not a finite number",
                "Black has no chromaticity: leave this reading out.");
  Line low = line_at(0);
  double d_low = across(uv, low);
  for (int row = 1; row < tables::robertson1968_isotemperature.rows; ++row) {
    const Line high = line_at(row);
    const double d_high = across(uv, high);
    if (d_low >= 0 && d_high < 0) {
      const double f = d_low / (d_low - d_high);
      const auto mix = [f](double a, double b) { return a + f * (b - a); };
      const double mired = mix(low.mired, high.mired);
      if (mired < 10) break;
      const double eu = mix(low.along_u, high.along_u), ev = mix(low.along_v, high.along_v);
      const double du = uv.u - mix(low.foot.u, high.foot.u), dv = uv.v - mix(low.foot.v, high.foot.v);
      return CctDuv<>{1e6 / mired, (du * eu + dv * ev) / std::hypot(eu, ev)};
    }
    low = high;
    d_low = d_high;
  }
  return fail(ErrorCode::out_of_range,
              fmt::format("u {:.6f}, v {:.6f} lies outside the isotemperature lines of 1667 to 100000 K", uv.u, uv.v),
              "Describe this colour by its chromaticity instead.");
}

}  // namespace provenit::colour
