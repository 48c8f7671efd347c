#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "greyscale_internal.h"
#include "provenit/base/text.h"
#include "provenit/signal/encoding.h"

namespace provenit::evaluation {
namespace {

// Fills one step's numbers.
void components_of(const colour::AbsoluteXyz<>& light, const GreyTarget& target, const colour::UvPrime<>& white,
                   double* out) {
  const auto itp = itp_vectors(light, target);
  const auto chroma = colour::uv_prime_from_xyz(light);
  std::ranges::copy(itp.whole, out + whole);
  out[luminance] = itp.luminance;
  std::ranges::copy(itp.chromaticity, out + chromaticity);
  out[uv] = chroma.u - white.u;
  out[uv + 1] = chroma.v - white.v;
  out[deviation] = target.cdm2 > 0 ? light.Y / target.cdm2 - 1 : 0;
}

std::vector<colour::Uncertain> inputs_of(const Greyscale& g, const Target& target) {
  std::vector<colour::Uncertain> inputs = target.inputs();
  for (const auto& s : g.steps) inputs.insert(inputs.end(), {s.step->light.X, s.step->light.Y, s.step->light.Z});
  return inputs;
}

}  // namespace

std::size_t clip_step(std::span<const double> cdm2, double tolerance) {
  if (cdm2.empty()) return 0;
  const double highest = *std::ranges::max_element(cdm2);
  std::size_t first = cdm2.size();
  while (first > 0 && cdm2[first - 1] >= highest * (1 - tolerance)) --first;
  return first + 1 >= cdm2.size() ? cdm2.size() : first;
}

double clip_tolerance(const RunLight& run, const instrument::Capabilities& capabilities) {
  const double percent = run.parameters.is_object() ? run.parameters.value("clip_tolerance_percent", 0.5) : 0.5;
  return std::max(percent / 100, 4 * capabilities.repeatability_relative);
}

Result<Greyscale> greyscale_of(const RunLight& run, const Target& target,
                               const instrument::Capabilities& capabilities) {
  Greyscale g{.run = &run};
  for (const auto& step : run.steps) {
    constexpr std::string_view prefix = "grey_";
    if (!std::string_view(step.key).starts_with(prefix)) continue;
    const auto& code = step.signal.patch.code;
    const auto named = parse_integer(std::string_view(step.key).substr(prefix.size()));
    if (code[0] != code[1] || code[1] != code[2] || !named || *named != code[0])
      return fail(
          ErrorCode::invalid_input,
          fmt::format("greyscale run: step '{}' was read of R'G'B' {} {} {}", step.key, code[0], code[1], code[2]),
          "A greyscale step is named grey_<code> after the one code that all three channels have.",
          {.reading = step.readings.front()});
    g.steps.push_back({&step, code[0], signal::signal_of(step.signal.encoding, code[0]).value});
  }
  std::ranges::sort(g.steps, {}, &GreyStep::code);
  std::vector<double> cdm2;
  for (const auto& s : g.steps) {
    g.signals.push_back(s.signal);
    cdm2.push_back(s.step->light.Y.value());
  }
  g.clip = clip_step(cdm2, clip_tolerance(run, capabilities));
  g.target_cdm2.resize(g.steps.size());
  if (target.known()) {
    std::size_t most = 0;
    for (const auto& u : target.inputs())
      for (const auto& term : u.terms()) most = std::max<std::size_t>(most, term.source + 1);
    target.at(g.signals, std::vector<double>(most, 0.0), g.target_cdm2);
  }
  return g;
}

GreyscaleSample sample_greyscale(const Study& study, const Greyscale& g, const Target& target) {
  const auto white = colour::uv_prime_from_xy(colour::d65_video);
  const bool fixed = target.inputs().empty();
  std::vector<double> cdm2 = g.target_cdm2;
  std::vector<GreyTarget> goals;
  for (double t : cdm2) goals.push_back(grey_target(t));
  std::vector<double> shown(g.steps.size());
  Vectors vectors{.points = g.steps.size(), .dimension = components};
  vectors.at = [&](std::span<const double> errors, std::span<double> out) {
    if (!fixed) {
      target.at(g.signals, errors, cdm2);
      for (std::size_t j = 0; j < cdm2.size(); ++j) goals[j] = grey_target(cdm2[j]);
    }
    for (std::size_t j = 0; j < g.steps.size(); ++j) {
      const auto light = light_at(*g.steps[j].step, errors);
      shown[j] = light.Y;
      components_of(light, goals[j], white, &out[j * components]);
    }
  };
  // What also moves the target is common to all steps, and no step's own noise.
  for (const auto& s : g.steps)
    vectors.own_sources.push_back(std::ranges::find(target.steps(), s.step) == target.steps().end()
                                      ? repeatability_of(*s.step, study.light.sources)
                                      : std::vector<colour::SourceId>{});
  const auto inputs = inputs_of(g, target);
  GreyscaleSample sample{.all = length_problem(study, vectors, inputs)};
  const std::size_t n = sample.all.size();
  const auto draws = static_cast<std::size_t>(study.input.monte_carlo_draws);
  sample.all.errors.resize(draws * n);
  sample.cdm2.assign(g.steps.size(), std::vector<float>(draws));
  std::vector<double> out(n);
  sample.sampling =
      sample_errors(study, inputs, study.input.monte_carlo_draws, [&](std::size_t i, std::span<const double> errors) {
        vectors.at(errors, out);
        for (std::size_t k = 0; k < n; ++k)
          sample.all.errors[i * n + k] = static_cast<float>(sample.all.measured[k] - out[k]);
        for (std::size_t j = 0; j < shown.size(); ++j) sample.cdm2[j][i] = static_cast<float>(shown[j]);
      });
  return sample;
}

LengthProblem slice(const LengthProblem& all, std::span<const std::size_t> steps, Component first,
                    std::size_t dimension, std::size_t draws) {
  LengthProblem p{.points = steps.size(), .dimension = dimension};
  const std::size_t n = all.size();
  const auto take = [&](const auto* from, auto& into) {
    for (std::size_t j : steps)
      for (std::size_t k = 0; k < dimension; ++k) into.push_back(from[j * all.dimension + first + k]);
  };
  take(all.measured.data(), p.measured);
  take(all.noise_variance.data(), p.noise_variance);
  for (std::size_t s = 0; s < all.common_sources(); ++s) take(&all.common[s * n], p.common);
  p.errors.reserve(draws * p.size());
  for (std::size_t i = 0; i < std::min(draws, all.draws()); ++i) take(&all.errors[i * n], p.errors);
  return p;
}

}  // namespace provenit::evaluation
