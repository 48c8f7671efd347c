// Where the display stops following its EOTF: clip point and start of roll-off.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "clip_internal.h"
#include "greyscale_internal.h"

namespace provenit::evaluation {
namespace {

const Method kClip{"clip-point", 1, {"This project (docs/methods/greyscale.md)", "JCGM 101:2008"}};

// The plateau's first step may still be a little below, so it is left out where others remain.
std::size_t plateau_start(const Greyscale& g) {
  return g.steps.size() - g.clip > 2 ? g.clip + 1 : g.clip;
}

colour::Uncertain plateau(const Greyscale& g) {
  const std::size_t from = plateau_start(g);
  colour::Uncertain sum = 0;
  for (std::size_t j = from; j < g.steps.size(); ++j) sum += g.steps[j].step->light.Y;
  return sum / static_cast<double>(g.steps.size() - from);
}

// E' range of one code.
double code_width(const Greyscale& g) {
  const auto &first = g.steps.front(), &last = g.steps.back();
  return last.code > first.code ? (last.signal - first.signal) / (last.code - first.code) : 0;
}

// The lowest code on the plateau lies above the step before and at or below the first step on it: this many codes.
double codes_in_question(const Greyscale& g, std::size_t clip) {
  return clip == 0 ? 1 : g.steps[clip].code - g.steps[clip - 1].code;
}

void add_clip(Findings& out, const Study& study, const Greyscale& g, const GreyscaleSample& sample) {
  auto f = new_finding("clip_luminance", nlohmann::json::object(), kClip);
  for (std::size_t j = g.clip; j < g.steps.size(); ++j) use_step(f, *g.run, *g.steps[j].step);
  set_linear(f, plateau(g), study);
  out.push_back(std::move(f));

  const double tolerance = clip_tolerance(*g.run, study.input.capabilities), width = code_width(g);
  std::vector<double> luminances(g.steps.size()), lowest(sample.sampling.draws);
  for (std::size_t i = 0; i < lowest.size(); ++i) {
    for (std::size_t j = 0; j < luminances.size(); ++j) luminances[j] = sample.cdm2[j][i];
    const std::size_t clip = std::min(clip_step(luminances, tolerance), g.steps.size() - 1);
    // Equally likely anywhere among the codes that were not read: spread by the golden ratio, evenly and without
    // chance.
    const double place = std::fmod(0.6180339887498949 * static_cast<double>(i + 1), 1.0);
    lowest[i] = g.steps[clip].signal - width * std::floor(place * codes_in_question(g, clip));
  }
  auto s = new_finding("clip_signal", nlohmann::json::object(), kClip);
  for (const auto& step : g.steps) use_step(s, *g.run, *step.step);
  const double value = g.steps[g.clip].signal - width * 0.5 * (codes_in_question(g, g.clip) - 1);
  set_sampled(s, value, lowest, sample.sampling, study);
  s.parts["codes_in_question"] = codes_in_question(g, g.clip);
  out.push_back(std::move(s));
}

// Target luminance from which light stays below 95 % of its target up to the highest code; nullopt if it does not.
std::optional<double> roll_off(std::span<const double> target, std::span<const double> light) {
  std::size_t above = target.size();  // last step that still holds
  while (above > 0 && !(target[above - 1] > 0 && light[above - 1] / target[above - 1] >= kClipFallsBelow)) --above;
  if (above == target.size() || above == 0) return std::nullopt;
  const double upper = light[above - 1] / target[above - 1], lower = light[above] / target[above];
  const double w = (upper - kClipFallsBelow) / (upper - lower);
  return std::exp((1 - w) * std::log(target[above - 1]) + w * std::log(target[above]));
}

// Hard or rolled: a hard clip at a luminance falls to 95 % of its target at that luminance / 0.95, a soft one before.
void add_softness(Findings& out, const Study& study, const Greyscale& g, const GreyscaleSample& sample, double start,
                  std::span<const double> starts) {
  if (g.clip >= g.steps.size() || !(start > 0)) return;
  const std::size_t from = plateau_start(g);
  const auto softness = [](double clip_cdm2, double at_cdm2) {
    return 100 * (clip_cdm2 / (kClipFallsBelow * at_cdm2) - 1);
  };
  std::vector<double> drawn;
  for (std::size_t i = 0; i < starts.size(); ++i) {
    double clip = 0;
    for (std::size_t j = from; j < g.steps.size(); ++j) clip += static_cast<double>(sample.cdm2[j][i]);
    drawn.push_back(softness(clip / static_cast<double>(g.steps.size() - from), starts[i]));
  }
  auto f = new_finding("clip_softness", nlohmann::json::object(), kClip);
  for (const auto& step : g.steps) use_step(f, *g.run, *step.step);
  set_sampled(f, softness(plateau(g).value(), start), drawn, sample.sampling, study);
  f.parts["clip"] = f.upper95 < kSoftClipFrom_percent   ? "hard"
                    : f.lower95 > kSoftClipFrom_percent ? "rolled"
                                                        : "not sure";
  out.push_back(std::move(f));
}

void add_roll_off(Findings& out, const Study& study, const Greyscale& g, const Target& target,
                  const GreyscaleSample& sample) {
  std::vector<double> light;
  for (const auto& s : g.steps) light.push_back(s.step->light.Y.value());
  const auto value = roll_off(g.target_cdm2, light);
  if (!value) return;
  std::vector<double> starts;
  const auto draws = static_cast<std::size_t>(sample.sampling.draws);
  for (std::size_t i = 0; i < draws; ++i) {
    // The ratio to the target was drawn with the target's own errors: take it from there.
    for (std::size_t j = 0; j < light.size(); ++j) {
      const std::size_t k = j * components + Component::deviation;
      const double ratio =
          1 + sample.all.measured[k] - static_cast<double>(sample.all.errors[i * sample.all.size() + k]);
      light[j] = ratio * g.target_cdm2[j];
    }
    starts.push_back(roll_off(g.target_cdm2, light).value_or(g.target_cdm2.back()));
  }
  auto f = new_finding("roll_off_start", nlohmann::json::object(), target.method("roll-off"));
  for (const auto& step : g.steps) use_step(f, *g.run, *step.step);
  set_sampled(f, *value, starts, sample.sampling, study);
  out.push_back(std::move(f));
  add_softness(out, study, g, sample, *value, starts);
}

}  // namespace

void add_clip_findings(Findings& out, const Study& study, const Greyscale& g, const Target& target,
                       const GreyscaleSample& sample) {
  if (g.clip < g.steps.size()) add_clip(out, study, g, sample);
  add_roll_off(out, study, g, target, sample);
}

}  // namespace provenit::evaluation
