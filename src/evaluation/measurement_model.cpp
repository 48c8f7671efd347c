#include "provenit/evaluation/measurement_model.h"

#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <tuple>

#include "drift_internal.h"
#include "matrix_errors_internal.h"
#include "noise_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/procedure/runner.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;
using store::ReadingRecord;
using UncertainXyz = colour::AbsoluteXyz<Uncertain>;

constexpr const char* kReference = "reference";

Result<void> check(const instrument::Certificate& c) {
  const auto bad = [](const char* field, double value, const char* advice) {
    return fail(ErrorCode::out_of_range, fmt::format("the instrument's certificate has {} = {}", field, value), advice,
                {.field = field});
  };
  if (!(c.coverage_factor > 0 && std::isfinite(c.coverage_factor)))
    return bad("coverage_factor", c.coverage_factor, "Give the k printed beside the expanded uncertainties, often 2.");
  const std::array<std::pair<const char*, double>, 4> values{
      {{"luminance_expanded_relative", c.luminance_expanded_relative},
       {"x_expanded", c.x_expanded},
       {"y_expanded", c.y_expanded},
       {"zero_offset_standard_cdm2", c.zero_offset_standard_cdm2}}};
  for (const auto& [field, value] : values)
    if (!(value >= 0 && std::isfinite(value))) return bad(field, value, "Give a number from 0 up.");
  return {};
}

Result<void> check(const ReadingRecord& r, const std::string& procedure) {
  const auto bad = [&](std::string what, const char* advice) {
    return fail(ErrorCode::invalid_input, fmt::format("{} run, step '{}': {}", procedure, r.step, what), advice,
                {.reading = r.id});
  };
  const auto& c = r.measurement.xyz;
  if (!std::isfinite(c.X) || !std::isfinite(c.Y) || !std::isfinite(c.Z))
    return bad("X, Y, Z are not all numbers", "Take the run again.");
  if (r.measurement.saturated)
    return bad(fmt::format("the instrument was saturated at {:.6g} cd/m2", c.Y),
               "Read it with a filter or a higher range, in a new run.");
  if (r.step == kReference && !(c.Y > 0))
    return bad(fmt::format("a drift reference of {:.6g} cd/m2", c.Y), "Take the run again with a bright reference.");
  return {};
}

/// The run is the drift itself: there is nothing to correct.
bool watches_drift(const std::string& procedure) {
  return procedure == "warm_up" || procedure == "sustained" || procedure == "stability";
}

bool is_grey(const signal::Signal& s) {
  return s.patch.code[0] == s.patch.code[1] && s.patch.code[1] == s.patch.code[2];
}

double middle_of(const ReadingRecord& r, Timestamp start) {
  return (r.taken - start).s + r.measurement.integration.s / 2;
}

/// Mean integration of the readings of one step; what the capabilities expect where an instrument does not say.
Seconds integration_of(std::span<const ReadingRecord* const> step, const instrument::Capabilities& capabilities) {
  double sum = 0;
  for (const auto* r : step) {
    const double said = r->measurement.integration.s;
    sum +=
        said > 0
            ? said
            : (capabilities.integration.expected({.cdm2 = r->measurement.xyz.Y}) - capabilities.integration.overhead).s;
  }
  return {std::max(sum / static_cast<double>(step.size()), 1e-6)};
}

// The readings of one run in the order taken, by step, and its references.
struct SortedRun {
  const RunData* data = nullptr;
  Timestamp start{};  // of the first reference, or of the first reading
  std::vector<const ReadingRecord*> references;
  std::vector<std::vector<const ReadingRecord*>> steps;
  bool corrects_drift = false;
  DriftCurve drift_values;
};

Result<SortedRun> sort_run(const RunData& data) {
  SortedRun out{.data = &data};
  std::vector<const ReadingRecord*> ordered;
  for (const auto& r : data.readings) {
    if (auto ok = check(r, data.run.procedure); !ok) return tl::unexpected(ok.error());
    ordered.push_back(&r);
  }
  std::ranges::sort(ordered, {}, &ReadingRecord::sequence);
  for (const auto* r : ordered) {
    if (r->step == kReference) {
      out.references.push_back(r);
      continue;
    }
    const auto same = std::ranges::find_if(out.steps, [&](const auto& s) { return s.front()->step == r->step; });
    if (same == out.steps.end()) {
      out.steps.push_back({r});
    } else if ((*same).front()->signal == r->signal) {
      same->push_back(r);
    } else {
      return fail(ErrorCode::invalid_input,
                  fmt::format("{} run: step '{}' was read of two different signals", data.run.procedure, r->step),
                  "Give each signal a step of its own.", {.reading = r->id});
    }
  }
  out.start = out.references.empty() ? ordered.front()->taken : out.references.front()->taken;
  out.corrects_drift = out.references.size() >= 2 && !watches_drift(data.run.procedure);
  if (out.corrects_drift) {
    std::vector<DriftCurve::Reference> exact;
    for (const auto* r : out.references) {
      const auto& c = r->measurement.xyz;
      exact.push_back({middle_of(*r, out.start), {.X = c.X, .Y = c.Y, .Z = c.Z}});
    }
    out.drift_values = DriftCurve(std::move(exact), nullptr);
  }
  return out;
}

// Readings of a step brought to the first reference's state, as plain values.
std::vector<colour::AbsoluteXyz<>> settled_values(const SortedRun& run, const std::vector<const ReadingRecord*>& step) {
  std::vector<colour::AbsoluteXyz<>> out;
  for (const auto* r : step) {
    const auto d = run.drift_values.at(middle_of(*r, run.start), is_grey(r->signal));
    const auto& c = r->measurement.xyz;
    out.push_back({.X = c.X / d[0].value(), .Y = c.Y / d[1].value(), .Z = c.Z / d[2].value()});
  }
  return out;
}

colour::AbsoluteXyz<> mean_of(const std::vector<colour::AbsoluteXyz<>>& values) {
  colour::AbsoluteXyz<> sum;
  const auto n = static_cast<double>(values.size());
  for (const auto& v : values) sum = {.X = sum.X + v.X / n, .Y = sum.Y + v.Y / n, .Z = sum.Z + v.Z / n};
  return sum;
}

double mean_time(const SortedRun& run, std::size_t step) {
  double sum = 0;
  for (const auto* r : run.steps[step]) sum += middle_of(*r, run.start);
  return sum / static_cast<double>(run.steps[step].size());
}

// Change per second of a display that is watched as it changes, at one step: slope of the parabola through this step's
// mean and two of those beside it, of the same signal; a chord where there is one only, 0 where there is none.
Vector3 course_at(const SortedRun& run, std::size_t step) {
  const auto same = [&](std::size_t i) {
    return i < run.steps.size() && run.steps[i].front()->signal == run.steps[step].front()->signal;
  };
  std::vector<std::size_t> beside;
  for (const std::size_t i : {step - 1, step + 1, step + 2, step - 2})  // step - 1 wraps around where there is none
    if (beside.size() < 2 && same(i)) beside.push_back(i);
  const auto chord = [&](std::size_t i) {
    const auto a = channels(mean_of(settled_values(run, run.steps[step])));
    const auto b = channels(mean_of(settled_values(run, run.steps[i])));
    const double span = mean_time(run, i) - mean_time(run, step);
    return std::pair(span, Vector3{(b[0] - a[0]) / span, (b[1] - a[1]) / span, (b[2] - a[2]) / span});
  };
  if (beside.empty()) return {};
  const auto [near, slope] = chord(beside[0]);
  if (beside.size() == 1) return slope;
  const auto [far, other] = chord(beside[1]);
  Vector3 out{};
  for (int k = 0; k < 3; ++k) out[k] = (slope[k] * far - other[k] * near) / (far - near);
  return out;
}

// Readings of a step whose scatter is that of the instrument: what the display itself did meanwhile is taken out.
std::vector<colour::AbsoluteXyz<>> repeats_of(const SortedRun& run, std::size_t step) {
  auto values = settled_values(run, run.steps[step]);
  if (values.size() < 2 || !watches_drift(run.data->run.procedure)) return values;
  const Vector3 slope = course_at(run, step);
  const double middle = mean_time(run, step);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double since = middle_of(*run.steps[step][i], run.start) - middle;
    auto& v = values[i];
    v = {.X = v.X - slope[0] * since, .Y = v.Y - slope[1] * since, .Z = v.Z - slope[2] * since};
  }
  return values;
}

// Weights of the run's references in each repeat of a step, less their means over the repeats.
Eigen::MatrixXd reference_weights(const SortedRun& run, std::size_t step) {
  const auto& readings = run.steps[step];
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(readings.size()),
                                              static_cast<Eigen::Index>(run.references.size()));
  if (!run.corrects_drift || readings.size() < 2) return out;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const auto weights = run.drift_values.weights(middle_of(*readings[i], run.start));
    out.row(static_cast<Eigen::Index>(i)) =
        Eigen::Map<const Eigen::RowVectorXd>(weights.data(), static_cast<Eigen::Index>(weights.size()));
  }
  return out.rowwise() - out.colwise().mean();
}

// Relative standard deviation of one reference by the capabilities.
Vector3 reference_noise(const SortedRun& run, const instrument::Capabilities& capabilities) {
  Vector3 out{};
  if (!run.corrects_drift) return out;
  const auto& light = run.references.front()->measurement.xyz;
  const auto prior = prior_noise(light, integration_of(run.references, capabilities), capabilities);
  // A channel of nearly nothing has no ratio to speak of.
  for (int k = 0; k < 3; ++k) out[k] = prior.deviation[k] / std::max(channels(light)[k], light.Y / 1000);
  return out;
}

// Builds the model; holds what all runs share.
class Builder {
 public:
  Builder(Light& light, const EvaluationInput& input) : light_(light), input_(input) { add_instrument(); }

  void pool_repeats(const std::vector<SortedRun>& runs) {
    Scatter bright, dark;
    for (const auto& run : runs) pool_repeats(run, bright, dark);
    const auto common = common_noise(bright);
    bright_.emplace(light_.sources, bright, common);
    dark_.emplace(light_.sources, dark, common);
    const auto summary = [](const NoiseScale& s) {
      return Light::Repeatability{s.factor[1], s.degrees_of_freedom, s.prior_dropped};
    };
    light_.bright = summary(bright_->scale);
    light_.dark = summary(dark_->scale);
  }

  Result<void> take_matrix() {
    if (!input_.matrix) return {};
    auto errors = MatrixErrors::of(*input_.matrix, light_.sources);
    if (!errors) return tl::unexpected(errors.error());
    matrix_ = std::move(*errors);
    light_.matrix = matrix_->common();
    return {};
  }

  void add_run(const SortedRun& sorted) {
    RunLight run{.procedure = sorted.data->run.procedure,
                 .procedure_version = sorted.data->run.procedure_version,
                 .parameters = sorted.data->run.parameters,
                 .drift_corrected = sorted.corrects_drift,
                 .watches_drift = watches_drift(sorted.data->run.procedure)};
    for (const auto* r : sorted.references)
      run.references.push_back({middle_of(*r, sorted.start), r->measurement.xyz, r->id});
    const DriftCurve drift = sorted.corrects_drift ? uncertain_drift(sorted) : DriftCurve();
    for (const auto& step : sorted.steps) run.steps.push_back(step_light(sorted, step, drift));
    light_.runs.push_back(std::move(run));
  }

 private:
  void add_instrument() {
    const auto& c = input_.certificate;
    const auto add = [&](const char* name, double u) {
      return light_.sources.add({.name = name, .standard_uncertainty = u});
    };
    const auto scale = add(kLuminanceScale, c.luminance_expanded_relative / c.coverage_factor);
    const auto x = add(kChromaticityX, c.x_expanded / c.coverage_factor);
    const auto y = add(kChromaticityY, c.y_expanded / c.coverage_factor);
    std::array<colour::SourceId, 3> zero{};
    for (auto& id : zero) id = add(kZeroOffset, c.zero_offset_standard_cdm2);
    light_.instrument = {{{"luminance_scale", scale},
                          {"chromaticity_x", x},
                          {"chromaticity_y", y},
                          {"zero_x", zero[0]},
                          {"zero_y", zero[1]},
                          {"zero_z", zero[2]}}};
    const colour::Xy<> white = colour::d65_video;
    const double white_z = 1 - white.x - white.y;
    const Uncertain s(1, scale), dx(0, x), dy(0, y);
    gain_ = {s * (1.0 + dx / white.x - dy / white.y), s, s * (1.0 - (dx + dy) / white_z - dy / white.y)};
    for (int k = 0; k < 3; ++k) zero_[k] = Uncertain(0, zero[k]);
  }

  // Repeats lie minutes apart, and each is divided by the references beside it: their noise is in the scatter too.
  void pool_repeats(const SortedRun& run, Scatter& bright, Scatter& dark) {
    const auto relative = reference_noise(run, input_.capabilities);
    const auto count = static_cast<Eigen::Index>(run.references.size());
    Eigen::MatrixXd of_bright = Eigen::MatrixXd::Zero(count, count), of_dark = of_bright;
    for (std::size_t i = 0; i < run.steps.size(); ++i) {
      const auto values = repeats_of(run, i);
      const bool is_in_bright = is_bright(mean_of(values).Y, input_.capabilities);
      const bool grey = is_grey(run.steps[i].front()->signal);
      const Eigen::MatrixXd weights = reference_weights(run, i);
      ReferenceNoise references{.spread = weights.squaredNorm(), .relative = relative, .same_in_all = !grey};
      if (!grey) references.relative.fill(relative[1]);
      const double share =
          add_repeats(is_in_bright ? bright : dark, values, integration_of(run.steps[i], input_.capabilities),
                      input_.capabilities, references);
      (is_in_bright ? of_bright : of_dark) += share * weights.transpose() * weights;
    }
    const auto add = [](Scatter& scatter, const Eigen::MatrixXd& form) {
      scatter.reference_trace += form.trace();
      scatter.reference_trace_of_square += form.squaredNorm();
    };
    add(bright, of_bright);
    add(dark, of_dark);
  }

  /// Of the mean of these readings, whose mean light is `at`.
  UncertainXyz noise(const char* name, const colour::AbsoluteXyz<>& at,
                     std::span<const ReadingRecord* const> readings) {
    const NoisePool& pool = is_bright(at.Y, input_.capabilities) ? *bright_ : *dark_;
    const auto prior = prior_noise(at, integration_of(readings, input_.capabilities), input_.capabilities);
    return noise_of(light_.sources, name, pool, prior, static_cast<double>(readings.size()));
  }

  DriftCurve uncertain_drift(const SortedRun& run) {
    std::vector<DriftCurve::Reference> references;
    for (const auto* r : run.references) {
      const auto& c = r->measurement.xyz;
      const auto n = noise(kDriftReference, c, std::array{r});
      references.push_back({middle_of(*r, run.start), {.X = c.X + n.X, .Y = c.Y + n.Y, .Z = c.Z + n.Z}});
    }
    return DriftCurve(std::move(references), &light_.sources);
  }

  StepLight step_light(const SortedRun& run, const std::vector<const ReadingRecord*>& step, const DriftCurve& drift) {
    StepLight out{.key = step.front()->step, .signal = step.front()->signal, .light = {}, .readings = {}};
    out.context = step.front()->context;
    const auto n = static_cast<double>(step.size());
    std::array<Uncertain, 3> sum;
    for (const auto* r : step) {
      const auto d = drift.at(middle_of(*r, run.start), is_grey(r->signal));
      for (int k = 0; k < 3; ++k) sum[k] += (channels(r->measurement.xyz)[k] - zero_[k]) / d[k] / n;
      out.readings.push_back(r->id);
      out.below_range += r->measurement.below_range;
      out.time_s += middle_of(*r, run.start) / n;
    }
    const auto noise_error = noise(kRepeatability, mean_of(settled_values(run, step)), step);
    sum = {sum[0] - noise_error.X, sum[1] - noise_error.Y, sum[2] - noise_error.Z};
    if (matrix_ && !step.front()->measurement.spectrum) {
      const auto errors =
          matrix_->at({sum[0].value(), sum[1].value(), sum[2].value()}, is_grey(out.signal), light_.sources);
      for (int k = 0; k < 3; ++k) sum[k] += errors[k];
    }
    out.light = {.X = sum[0] / gain_[0], .Y = sum[1] / gain_[1], .Z = sum[2] / gain_[2]};
    return out;
  }

  Light& light_;
  const EvaluationInput& input_;
  std::optional<NoisePool> bright_, dark_;
  std::array<Uncertain, 3> gain_, zero_;
  std::optional<MatrixErrors> matrix_;
};

bool counts(const RunData& r) {
  return !r.readings.empty() && r.run.state != store::RunState::aborted;
}

/// The runs that count, by procedure, the newest first.
std::vector<const RunData*> chosen_of(std::span<const RunData> runs) {
  std::map<std::string, std::vector<const RunData*>> by_procedure;
  for (const auto& r : runs)
    if (counts(r)) by_procedure[r.run.procedure].push_back(&r);
  std::vector<const RunData*> chosen;
  for (auto& [procedure, candidates] : by_procedure) {
    std::ranges::sort(candidates, std::greater(), [](const RunData* r) {
      return std::tuple(r->run.state == store::RunState::finished, r->run.started.unix_s, r->run.id);
    });
    const auto state = candidates.front()->run.state;
    std::vector<nlohmann::json> measured;
    for (const auto* candidate : candidates) {
      auto identity = procedure::identity_of(candidate->run.parameters);
      if (candidate->run.state != state || std::ranges::find(measured, identity) != measured.end()) continue;
      chosen.push_back(candidate);
      measured.push_back(std::move(identity));
    }
  }
  return chosen;
}

}  // namespace

const StepLight* RunLight::find(std::string_view key) const {
  const auto found = std::ranges::find(steps, key, &StepLight::key);
  return found == steps.end() ? nullptr : &*found;
}

const RunLight* Light::find(std::string_view procedure) const {
  const auto found = std::ranges::find(runs, procedure, &RunLight::procedure);
  return found == runs.end() ? nullptr : &*found;
}

Result<Light> model_light(std::span<const RunData> runs, const EvaluationInput& input) {
  if (auto ok = check(input.certificate); !ok) return tl::unexpected(ok.error());
  std::vector<RunData> set_right;
  if (input.matrix) {
    for (const auto& r : runs) set_right.push_back({r.run, corrected(*input.matrix, r.readings)});
    runs = set_right;
  }
  std::vector<SortedRun> sorted;
  for (const auto* data : chosen_of(runs)) {
    auto run = sort_run(*data);
    if (!run) return tl::unexpected(run.error());
    sorted.push_back(std::move(*run));
  }
  Light light;
  Builder builder(light, input);
  if (auto taken = builder.take_matrix(); !taken) return tl::unexpected(taken.error());
  builder.pool_repeats(sorted);
  for (const auto& run : sorted) builder.add_run(run);
  return light;
}

}  // namespace provenit::evaluation
