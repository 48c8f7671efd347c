// Uniformity: how far luminance and colour differ over the picture.
#include <algorithm>
#include <cmath>

#include "findings_internal.h"
#include "itp_internal.h"
#include "provenit/instrument/placement.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

const Method kLuminanceMethod{"luminance-nonuniformity",
                              1,
                              {"100 % (1 - Lmin / Lmax): common practice, no source",
                               "This project (docs/methods/uniformity.md)", "JCGM 101:2008"}};
const Method kColourMethod{
    "uniformity-delta-uv",
    1,
    {"ISO/CIE 11664-5:2016 (u', v')", "This project (docs/methods/uniformity.md)", "JCGM 101:2008"}};

struct GridPoint {
  const StepLight* step = nullptr;
  instrument::Placement at;
};

/// Points in the order read; empty if one says no place or has no light.
std::vector<GridPoint> points_of(const RunLight& run) {
  std::vector<GridPoint> out;
  for (const auto& step : run.steps) {
    if (!step.key.starts_with("point_")) continue;
    const auto placement = instrument::placement_from_json(step.context.value("placement", nlohmann::json()));
    if (!placement || !(step.light.Y > 0.0)) return {};
    out.push_back({&step, *placement});
  }
  return out;
}

const GridPoint* centre_of(const std::vector<GridPoint>& points) {
  const auto found = std::ranges::find(points, instrument::Placement{}, &GridPoint::at);
  return found == points.end() ? nullptr : &*found;
}

/// All points against the centre: where, luminance, u'v'.
nlohmann::json map_of(const std::vector<GridPoint>& points, const GridPoint& centre, const Study& study) {
  auto out = nlohmann::json::array();
  const auto white = colour::uv_prime_from_xyz(centre.step->light);
  for (const auto& p : points) {
    const auto uv = colour::uv_prime_from_xyz(p.step->light);
    const Uncertain share = p.step == centre.step ? Uncertain(100.0) : 100.0 * (p.step->light.Y / centre.step->light.Y);
    const auto r = colour::linear_result(share, study.light.sources);
    out.push_back({{"x", p.at.x},
                   {"y", p.at.y},
                   {"cdm2", p.step->light.Y.value()},
                   {"percent_of_centre", r.value},
                   {"percent_lower95", r.interval.lower},
                   {"percent_upper95", r.interval.upper},
                   {"u_prime", uv.u.value()},
                   {"v_prime", uv.v.value()},
                   {"delta_u", (uv.u - white.u).value()},
                   {"delta_v", (uv.v - white.v).value()}});
  }
  return out;
}

}  // namespace

void add_uniformity_findings(Findings& out, const Study& study, const RunLight& run) {
  const auto points = points_of(run);
  const GridPoint* centre = centre_of(points);
  const auto asked = static_cast<std::size_t>(parameter(run, "points", 9));
  // An unfinished grid has no extremes.
  if (centre == nullptr || points.size() != asked) return;
  const nlohmann::json conditions{{"points", static_cast<int>(asked)}};

  auto even = new_finding("luminance_nonuniformity", conditions, kLuminanceMethod);
  auto tint = new_finding("uniformity_max_delta_uv", conditions, kColourMethod);
  std::vector<Uncertain> logs, inputs;
  Vectors vectors{.points = points.size() - 1, .dimension = 2, .at = {}, .own_sources = {}};
  std::vector<const StepLight*> others;
  for (const auto& p : points) {
    use_step(even, run, *p.step);
    use_step(tint, run, *p.step);
    const double y = p.step->light.Y.value();
    logs.push_back(Uncertain::map(std::log(y), 1 / y, p.step->light.Y));
    for (const auto& channel : {p.step->light.X, p.step->light.Y, p.step->light.Z}) inputs.push_back(channel);
    if (p.step == centre->step) continue;
    others.push_back(p.step);
    vectors.own_sources.push_back(repeatability_of(*p.step, study.light.sources));
  }
  set_range(even, study, logs, [](double range) { return 100 * (1 - std::exp(-range)); });
  if (study.input.series) even.series = map_of(points, *centre, study);
  out.push_back(std::move(even));

  vectors.at = [&](std::span<const double> errors, std::span<double> lengths) {
    const auto white = colour::uv_prime_from_xyz(light_at(*centre->step, errors));
    for (std::size_t i = 0; i < others.size(); ++i) {
      const auto uv = colour::uv_prime_from_xyz(light_at(*others[i], errors));
      lengths[2 * i] = uv.u - white.u;
      lengths[2 * i + 1] = uv.v - white.v;
    }
  };
  set_largest_length(tint, study, vectors, inputs);
  out.push_back(std::move(tint));
}

}  // namespace provenit::evaluation
