// Warm-up: when the reference patch has settled, and how fast it still drifts.
#include <algorithm>
#include <cmath>
#include <optional>

#include "findings_internal.h"
#include "provenit/colour/spaces.h"

namespace provenit::evaluation {
namespace {

const Method kWarmUpSettle{"settle-time", 1, {"This project (docs/methods/warm_up.md)", "JCGM 101:2008"}};
const Method kDrift{"residual-drift", 1, {"This project (docs/methods/warm_up.md)", "JCGM 100:2008, H.3 (line fit)"}};

// Index of the first reading from which all later ones stay within the tolerance of the mean of those from `window` on;
// nullopt if the last window itself does not.
std::optional<std::size_t> settled_from(std::span<const double> cdm2, std::size_t window, double tolerance) {
  const double level = colour::mean(cdm2.subspan(window));
  std::size_t first = cdm2.size();
  while (first > 0 && std::fabs(cdm2[first - 1] / level - 1) <= tolerance) --first;
  return first <= window ? std::optional(first) : std::nullopt;
}

nlohmann::json warm_up_series(const RunLight& run) {
  auto out = nlohmann::json::array();
  for (const auto& r : run.references) {
    const auto uv = colour::uv_prime_from_xyz(r.xyz);
    out.push_back({{"time_s", r.time_s}, {"cdm2", r.xyz.Y}, {"u_prime", uv.u}, {"v_prime", uv.v}});
  }
  return out;
}

struct WarmUpLine {
  double slope = 0, slope_u = 0, mean = 0, degrees_of_freedom = 0;
};
WarmUpLine fit(std::span<const ReferenceReading> r) {
  const auto n = static_cast<double>(r.size());
  double t = 0, y = 0, tt = 0, ty = 0;
  for (const auto& p : r) t += p.time_s / n, y += p.xyz.Y / n;
  for (const auto& p : r) tt += std::pow(p.time_s - t, 2), ty += (p.time_s - t) * (p.xyz.Y - y);
  WarmUpLine line{.slope = ty / tt, .mean = y, .degrees_of_freedom = n - 2};
  double ss = 0;
  for (const auto& p : r) ss += std::pow(p.xyz.Y - y - line.slope * (p.time_s - t), 2);
  line.slope_u = std::sqrt(ss / line.degrees_of_freedom / tt);
  return line;
}

/// Version 1 of the procedure had one tolerance.
std::vector<double> tolerances_percent(const RunLight& run) {
  const std::vector<double> one{parameter(run, "tolerance_percent", 0.5)};
  return run.parameters.is_object() ? run.parameters.value("tolerances_percent", one) : one;
}

void add_settle_time(Findings& out, const Study& study, const RunLight& run, std::size_t window,
                     double tolerance_percent) {
  std::vector<double> cdm2, shown;
  for (const auto& r : run.references) cdm2.push_back(r.xyz.Y);
  // The criterion is for single readings, so it must leave room for their noise.
  const double tolerance = tolerance_percent / 100;
  const auto settled = settled_from(cdm2, window, tolerance);
  if (!settled) return;
  // Readings carry their noise already; drawing it again tells how far it can move the end of settling. Between the
  // last reading outside and the first inside, any moment is as likely.
  const double relative = std::max(study.light.bright.factor, 0.0) * study.input.capabilities.repeatability_relative;
  colour::Sources sources;
  for (std::size_t i = 0; i < cdm2.size(); ++i) sources.add({.name = kRepeatability, .standard_uncertainty = relative});
  const colour::ErrorSampler sampler(sources, study.input.seed);
  std::vector<double> errors(cdm2.size()), starts;
  const auto time_of = [&](std::size_t first, double place) {
    if (first == 0) return 0.0;
    const double from = run.references[first - 1].time_s, to = run.references[first].time_s;
    return from + place * (to - from) - run.references.front().time_s;
  };
  for (int i = 0; i < study.input.monte_carlo_draws; ++i) {
    sampler.draw(static_cast<std::uint64_t>(i), errors);
    shown = cdm2;
    for (std::size_t j = 0; j < shown.size(); ++j) shown[j] *= 1 + errors[j];
    if (const auto first = settled_from(shown, window, tolerance))
      starts.push_back(time_of(*first, std::fmod(0.6180339887498949 * (i + 1), 1.0)));
  }
  if (starts.size() < 100) return;
  auto f = new_finding("settle_time", {{"tolerance_percent", tolerance_percent}}, kWarmUpSettle);
  for (const auto& r : run.references) f.readings.push_back(r.reading);
  const auto summary = colour::summarise(starts);
  f.value = time_of(*settled, 0.5);
  f.standard_uncertainty = summary.standard_uncertainty;
  f.lower95 = std::min(f.value, summary.shortest.lower);
  f.upper95 = std::max(f.value, summary.shortest.upper);
  f.interval_method = "Monte Carlo, shortest (JCGM 101 5.3.4)";
  f.dominant = "repeatability and the interval between readings";
  out.push_back(std::move(f));
}

void add_drift(Findings& out, const RunLight& run, std::size_t window) {
  const auto last = std::span(run.references).subspan(window);
  if (last.size() < 3) return;
  const WarmUpLine line = fit(last);
  if (!(line.mean > 0)) return;
  const double per_hour = 100 * 3600 / line.mean;
  auto f = new_finding("drift", nlohmann::json::object(), kDrift);
  for (const auto& r : last) f.readings.push_back(r.reading);
  f.value = per_hour * line.slope;
  f.standard_uncertainty = per_hour * line.slope_u;
  const double half = colour::student_factor(line.degrees_of_freedom) * f.standard_uncertainty;
  f.lower95 = f.value - half;
  f.upper95 = f.value + half;
  f.interval_method = "line fit, t-factor (JCGM 100 H.3)";
  f.dominant = "scatter of the reference readings about the line (100 % of variance)";
  f.parts["variance"] = nlohmann::json::array({{{"source", kRepeatability}, {"fraction", 1.0}}});
  f.parts["degrees_of_freedom"] = line.degrees_of_freedom;
  f.series = warm_up_series(run);
  out.push_back(std::move(f));
}

}  // namespace

void add_warm_up_findings(Findings& out, const Study& study, const RunLight& run) {
  const auto& r = run.references;
  if (r.size() < 4) return;
  // The last window of the run, in which the procedure found the display settled.
  const double from = r.back().time_s - parameter(run, "window_s", 600);
  const auto window =
      static_cast<std::size_t>(std::ranges::lower_bound(r, from - 1e-6, {}, &ReferenceReading::time_s) - r.begin());
  if (r.size() - window < 3) return;
  for (const double tolerance : tolerances_percent(run)) add_settle_time(out, study, run, window, tolerance);
  add_drift(out, run, window);
}

}  // namespace provenit::evaluation
