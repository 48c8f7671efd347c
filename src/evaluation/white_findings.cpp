// White point: chromaticity, distance from D65, CCT and Duv.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "findings_internal.h"
#include "itp_internal.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

const Method kUv{"white-uv", 1, {"This project (docs/methods/white_point.md)", "ISO/CIE 11664-5:2016 (u', v')"}};
const Method kDeltaUv{
    "white-delta-uv/D65-0.3127-0.3290", 1, {"ISO/CIE 11664-5:2016 (u', v')", "Rec. ITU-R BT.2100-3 (white)"}};
const Method kItp{"white-delta-e-itp/BT.2124-0", 1, {"Rec. ITU-R BT.2124-0 (01/2019)", "Rec. ITU-R BT.2100-3"}};
const Method kCct{"cct-duv/exact-nearest-point-CIE1931",
                  1,
                  {"CIE 15:2018 (definition)", "Ohno, LEUKOS 10 (2014) 47-55 (agreement checked)"}};

// Ellipse of the 95 % region, 48 points; the Cholesky factor turns a circle into it.
nlohmann::json ellipse(double u, double v, double uu, double uv, double vv, double squared_radius) {
  const double a = std::sqrt(uu), b = a > 0 ? uv / a : 0, c = std::sqrt(std::max(0.0, vv - b * b));
  const double r = std::sqrt(squared_radius);
  auto points = nlohmann::json::array();
  constexpr int n = 48;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * std::numbers::pi * i / n;
    points.push_back({u + r * a * std::cos(t), v + r * (b * std::cos(t) + c * std::sin(t))});
  }
  return points;
}

nlohmann::json region(const colour::UvPrime<Uncertain>& uv, const colour::Sources& sources) {
  const double uu = variance(uv.u, sources), vv = variance(uv.v, sources);
  const double cross = covariance(uv.u, uv.v, sources);
  const double nu =
      std::min(effective_degrees_of_freedom(uv.u, sources).value, effective_degrees_of_freedom(uv.v, sources).value);
  // Hotelling: 2 nu / (nu - 1) F(2, nu - 1).
  const double squared_radius = std::isfinite(nu) && nu > 1
                                    ? nu / (nu - 1) * colour::scaled_f_quantile(colour::kCoverage, 2, nu - 1)
                                    : colour::chi_square_quantile(colour::kCoverage, 2);
  return {{"u_prime", uv.u.value()},
          {"v_prime", uv.v.value()},
          {"covariance", {uu, cross, vv}},
          {"region95_squared_radius", squared_radius},
          {"ellipse95", ellipse(uv.u.value(), uv.v.value(), uu, cross, vv, squared_radius)}};
}

nlohmann::json reference_series(const RunLight& run) {
  auto out = nlohmann::json::array();
  for (const auto& r : run.references) {
    const auto uv = colour::uv_prime_from_xyz(r.xyz);
    out.push_back({{"time_s", r.time_s}, {"cdm2", r.xyz.Y}, {"u_prime", uv.u}, {"v_prime", uv.v}});
  }
  return out;
}

}  // namespace

void add_delta_uv(store::FindingRecord& f, const Study& study, const StepLight& step, const colour::Xy<>& target) {
  const auto goal = colour::uv_prime_from_xy(target);
  const std::array inputs{step.light.X, step.light.Y, step.light.Z};
  const Vectors vectors{.points = 1,
                        .dimension = 2,
                        .at =
                            [&](std::span<const double> e, std::span<double> out) {
                              const auto uv = colour::uv_prime_from_xyz(light_at(step, e));
                              out[0] = uv.u - goal.u;
                              out[1] = uv.v - goal.v;
                            },
                        .own_sources = {repeatability_of(step, study.light.sources)}};
  set_single_length(f, study, vectors, inputs);
}

void add_white_findings(Findings& out, const Study& study, const RunLight& run) {
  const StepLight* white = run.find("white");
  if (white == nullptr || !(white->light.Y > 0.0)) return;
  const auto uv = colour::uv_prime_from_xyz(white->light);
  const auto add = [&](const char* quantity, const Method& method) -> store::FindingRecord& {
    out.push_back(new_finding(quantity, nlohmann::json::object(), method));
    use_step(out.back(), run, *white);
    return out.back();
  };
  auto& u = add("white_u_prime", kUv);
  set_linear(u, uv.u, study);
  u.series = reference_series(run);
  set_linear(add("white_v_prime", kUv), uv.v, study);

  auto& delta = add("white_delta_uv", kDeltaUv);
  add_delta_uv(delta, study, *white, colour::d65_video);
  delta.series = nlohmann::json::array({region(uv, study.light.sources)});

  const std::array inputs{white->light.X, white->light.Y, white->light.Z};
  const Vectors chromatic{.points = 1,
                          .dimension = 3,
                          .at =
                              [&](std::span<const double> e, std::span<double> v) {
                                const auto light = light_at(*white, e);
                                const auto difference = itp_vectors(light, grey_target(light.Y));
                                std::ranges::copy(difference.chromaticity, v.begin());
                              },
                          .own_sources = {repeatability_of(*white, study.light.sources)}};
  set_single_length(add("white_delta_e_itp_chromaticity", kItp), study, chromatic, inputs);

  const auto cct = colour::cct_duv(colour::uv1960_from_uv_prime(uv));
  if (!cct) return;
  // Beyond this a colour temperature describes nothing; Duv still says how far away the white is.
  if (std::fabs(cct->duv.value()) <= colour::kLargestMeaningfulDuv)
    set_linear(add("white_cct", kCct), cct->cct_kelvin, study);
  set_linear(add("white_duv", kCct), cct->duv, study);
}

}  // namespace provenit::evaluation
