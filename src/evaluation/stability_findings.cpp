// Stability: slope and wander of luminance and colour over hours, of the light at the times it was read.
#include <algorithm>
#include <cmath>

#include "findings_internal.h"
#include "itp_internal.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

const Method kSlope{
    "stability-slope", 1, {"This project (docs/methods/stability.md)", "JCGM 100:2008, H.3 (line fit)"}};
const Method kWander{"stability-wander", 1, {"This project (docs/methods/stability.md)", "JCGM 101:2008"}};
const Method kColour{"stability-delta-uv",
                     1,
                     {"ISO/CIE 11664-5:2016 (u', v')", "This project (docs/methods/stability.md)", "JCGM 101:2008"}};
constexpr double kHour = 3600;

/// Least-squares line of relative luminance over time: slope per hour, and what lies off it, as functions of the
/// errors.
struct FittedLine {
  Uncertain slope_per_hour;  ///< share of the mean
  std::vector<Uncertain> off;
};
FittedLine fit(const std::vector<const StepLight*>& visits) {
  const auto n = static_cast<double>(visits.size());
  double time = 0, squares = 0;
  Uncertain sum;
  for (const auto* v : visits) time += v->time_s / kHour / n, sum += v->light.Y / n;
  std::vector<Uncertain> relative;
  for (const auto* v : visits) relative.push_back(v->light.Y / sum - 1.0);
  FittedLine line;
  for (const auto* v : visits) squares += std::pow(v->time_s / kHour - time, 2);
  for (std::size_t i = 0; i < visits.size(); ++i)
    line.slope_per_hour += relative[i] * ((visits[i]->time_s / kHour - time) / squares);
  for (std::size_t i = 0; i < visits.size(); ++i)
    line.off.push_back(relative[i] - line.slope_per_hour * (visits[i]->time_s / kHour - time));
  return line;
}

nlohmann::json series_of(const std::vector<const StepLight*>& visits) {
  auto out = nlohmann::json::array();
  for (const auto* v : visits) {
    const auto uv = colour::uv_prime_from_xyz(v->light);
    out.push_back(
        {{"time_s", v->time_s}, {"cdm2", v->light.Y.value()}, {"u_prime", uv.u.value()}, {"v_prime", uv.v.value()}});
  }
  return out;
}

}  // namespace

void add_stability_findings(Findings& out, const Study& study, const RunLight& run) {
  std::vector<const StepLight*> visits;
  for (const auto& step : run.steps)
    if (step.key.starts_with("visit_") && step.light.Y > 0.0) visits.push_back(&step);
  if (visits.size() < 4) return;
  const auto add = [&](const char* quantity, const Method& method) -> store::FindingRecord& {
    out.push_back(new_finding(quantity, nlohmann::json::object(), method));
    for (const auto* v : visits) use_step(out.back(), run, *v);
    return out.back();
  };
  const FittedLine line = fit(visits);
  auto& slope = add("stability_slope", kSlope);
  set_linear(slope, 100.0 * line.slope_per_hour, study);
  if (study.input.series) slope.series = series_of(visits);
  set_range(add("stability_wander", kWander), study, line.off, [](double range) { return 100 * range; });

  Vectors vectors{.points = visits.size(), .dimension = 2, .at = {}, .own_sources = {}};
  std::vector<Uncertain> inputs;
  for (const auto* v : visits) {
    vectors.own_sources.push_back(repeatability_of(*v, study.light.sources));
    for (const auto& channel : {v->light.X, v->light.Y, v->light.Z}) inputs.push_back(channel);
  }
  vectors.at = [&](std::span<const double> errors, std::span<double> lengths) {
    double u = 0, v = 0;
    for (std::size_t i = 0; i < visits.size(); ++i) {
      const auto uv = colour::uv_prime_from_xyz(light_at(*visits[i], errors));
      lengths[2 * i] = uv.u;
      lengths[2 * i + 1] = uv.v;
      u += uv.u / static_cast<double>(visits.size());
      v += uv.v / static_cast<double>(visits.size());
    }
    for (std::size_t i = 0; i < visits.size(); ++i) lengths[2 * i] -= u, lengths[2 * i + 1] -= v;
  };
  set_largest_length(add("stability_max_delta_uv", kColour), study, vectors, inputs);
}

}  // namespace provenit::evaluation
