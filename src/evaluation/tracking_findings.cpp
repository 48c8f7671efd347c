// What a greyscale run also tells: white over level against its own white, and how softly the display clips.
#include <algorithm>
#include <cmath>
#include <optional>

#include "greyscale_internal.h"
#include "provenit/colour/cct.h"

namespace provenit::evaluation {
namespace {

constexpr double kReference_cdm2 = 203, kFrom_cdm2 = 1;
const Method kWhite{
    "white-tracking/own-white",
    1,
    {"ISO/CIE 11664-5:2016 (u', v')", "CIE 15:2018 (CCT)", "Report ITU-R BT.2408-8, s.2.1 (203 cd/m2)"}};

nlohmann::json with_interval(const colour::Uncertain& v, const colour::Sources& sources) {
  const auto r = colour::linear_result(v, sources);
  return interval_json(r.value, r.interval);
}

nlohmann::json series_of(const Study& study, const Greyscale& g, std::span<const std::size_t> steps,
                         const colour::UvPrime<colour::Uncertain>& own) {
  auto out = nlohmann::json::array();
  const auto& sources = study.light.sources;
  for (std::size_t j : steps) {
    const auto& light = g.steps[j].step->light;
    const auto uv_prime = colour::uv_prime_from_xyz(light);
    nlohmann::json o{{"step", g.steps[j].step->key},
                     {"target_cdm2", g.target_cdm2[j]},
                     {"cdm2", light.Y.value()},
                     {"delta_u", with_interval(uv_prime.u - own.u, sources)},
                     {"delta_v", with_interval(uv_prime.v - own.v, sources)}};
    if (const auto cct = colour::cct_duv(colour::uv1960_from_uv_prime(uv_prime))) {
      o["duv"] = with_interval(cct->duv, sources);
      if (std::fabs(cct->duv.value()) <= colour::kLargestMeaningfulDuv)
        o["cct"] = with_interval(cct->cct_kelvin, sources);
    }
    out.push_back(std::move(o));
  }
  return out;
}

// Vectors of the steps less those of the reference, draw by draw. The reference's own noise is common to all.
LengthProblem against(const LengthProblem& steps, const LengthProblem& reference) {
  LengthProblem p = steps;
  const std::size_t n = p.size(), d = p.dimension;
  const auto subtract = [&](auto& from, const auto& what) {
    for (std::size_t i = 0; i < from.size(); ++i) from[i] -= what[i / n * d + i % d];
  };
  subtract(p.measured, reference.measured);
  subtract(p.common, reference.common);
  subtract(p.errors, reference.errors);
  for (std::size_t k = 0; k < d; ++k)
    for (std::size_t i = 0; i < n; ++i) p.common.push_back(i % d == k ? std::sqrt(reference.noise_variance[k]) : 0);
  return p;
}

}  // namespace

void add_white_tracking(Findings& out, const Study& study, const Greyscale& g, const GreyscaleSample& sample) {
  std::vector<std::size_t> steps;
  for (std::size_t j = 0; j < g.clip; ++j)
    if (g.target_cdm2[j] >= kFrom_cdm2 && g.steps[j].step->light.Y > 0.0) steps.push_back(j);
  if (steps.size() < 2) return;
  const auto nearest = std::ranges::min_element(
      steps, {}, [&](std::size_t j) { return std::fabs(std::log(g.target_cdm2[j] / kReference_cdm2)); });
  const std::array reference{*nearest};
  steps.erase(nearest);
  auto problem = against(slice(sample.all, steps, Component::uv, 2, sample.all.draws()),
                         slice(sample.all, reference, Component::uv, 2, sample.all.draws()));
  problem.statistic = LengthStatistic::largest;
  auto f = new_finding("white_tracking_max_delta_uv", nlohmann::json::object(), kWhite);
  for (std::size_t j : steps) use_step(f, *g.run, *g.steps[j].step);
  use_step(f, *g.run, *g.steps[reference[0]].step);
  set_length(f, length_interval(problem), sample.sampling, study);
  f.parts["reference_step"] = g.steps[reference[0]].step->key;
  f.parts["steps"] = steps.size();
  if (study.input.series) {
    const auto own = colour::uv_prime_from_xyz(g.steps[reference[0]].step->light);
    steps.push_back(reference[0]);
    std::ranges::sort(steps);
    f.series = series_of(study, g, steps, own);
  }
  out.push_back(std::move(f));
}

}  // namespace provenit::evaluation
