#include "provenit/correct/display_model.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "eigen.h"
#include "provenit/colour/spaces.h"
#include "readings.h"
#include "state.h"

namespace provenit::correct {
namespace {

using model::kDeltaE;
using model::Vector;

/// A reading that the model misses by this much, and by so many times its own noise, is not of this display.
constexpr double kOutlierDeltaE = 12, kOutlierFactor = 6;

colour::AbsoluteXyz<> xyz_of(const Vector& v) {
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}

double length(const Vector& v) {
  return std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
}

/// Light with what the field adds in I, T, P.
Vector light_at(const DisplayModel::State& s, const Vector& container, const Vector& state) {
  const Vector drive = s.fit.physics.drive(container);
  Vector xyz = s.fit.physics.xyz(drive, state);
  if (s.field.empty()) return xyz;
  const Vector more = inverse(model::itp_slope(xyz)) * s.field.at(drive);
  for (int k = 0; k < 3; ++k) xyz[k] += more[k];
  return xyz;
}

double delta_e(const DisplayModel::State& s, const model::Point& p) {
  const Vector model = light_at(s, p.container, p.state);
  return kDeltaE *
         length(model::itp_slope(model) * Vector{p.xyz[0] - model[0], p.xyz[1] - model[1], p.xyz[2] - model[2]});
}

/// Five models, each without a fifth of the readings, show what the model is worth where it has not read.
void hold_out(const model::Start& start, const DisplayModel::State& state, ModelReport& report) {
  constexpr std::size_t kFolds = 5;
  tbb::parallel_for(std::size_t{0}, kFolds, [&](std::size_t fold) {
    std::vector<model::Point> seen;
    for (std::size_t i = 0; i < state.points.size(); ++i)
      if (i % kFolds != fold) seen.push_back(state.points[i]);
    const model::Fit fit = model::fitted(start, seen, state.fit.terms, &state.fit.physics);
    const DisplayModel::State without{.encoding = state.encoding,
                                      .light = state.light,
                                      .fit = fit,
                                      .field = model::Field::from(fit, seen),
                                      .points = {},
                                      .report = {},
                                      .posterior = {}};
    for (std::size_t i = fold; i < state.points.size(); i += kFolds)
      report.residuals[i].held_out_delta_e_itp = delta_e(without, state.points[i]);
  });
  std::vector<double> all;
  for (const auto& r : report.residuals) {
    all.push_back(r.held_out_delta_e_itp);
    report.mean_held_out += r.held_out_delta_e_itp / static_cast<double>(report.residuals.size());
  }
  std::ranges::sort(all);
  report.percentile_95_held_out = all[static_cast<std::size_t>(0.95 * static_cast<double>(all.size() - 1))];
}

}  // namespace

std::string text_of(const ModelTerms& terms) {
  std::string text;
  const auto add = [&](bool has, const char* name) {
    if (has) text += (text.empty() ? "" : ", ") + std::string(name);
  };
  add(terms.interaction, "interaction");
  add(terms.leakage, "leakage");
  add(terms.moving_primaries, "moving primaries");
  add(terms.dimming, "dimmed curves");
  add(terms.residual_field, "residual field");
  return text.empty() ? "none" : text;
}

Result<DisplayModel> DisplayModel::fit(const signal::Encoding& encoding, std::span<const ModelReading> readings,
                                       const FitOptions& options) {
  auto ready = model::prepared(encoding, readings);
  if (!ready) return tl::unexpected(ready.error());
  std::vector<std::pair<ModelTerms, double>> tried;
  model::Fit fit = options.terms ? model::fitted(ready->start, ready->points, *options.terms)
                                 : model::chosen(ready->start, ready->points, tried);
  const bool field = !options.terms || options.terms->residual_field;
  auto state = std::make_shared<State>(State{.encoding = encoding,
                                             .light = signal::EncodedLight(encoding),
                                             .fit = fit,
                                             .field = field ? model::Field::from(fit, ready->points) : model::Field(),
                                             .points = std::move(ready->points),
                                             .report = {},
                                             .posterior = {}});
  ModelReport& report = state->report;
  report.terms = fit.terms;
  report.terms.residual_field = !state->field.empty();
  report.tried = std::move(tried);
  report.discrepancy = kDeltaE * fit.discrepancy;
  report.field_length = state->field.empty() ? 0 : state->field.length();
  report.largest_drift_percent = 100 * ready->largest_drift;
  for (const auto& p : state->points) {
    const auto noise = model::deviation(fit.physics, p).noise;
    const double expected = kDeltaE * std::sqrt(noise(0, 0) + noise(1, 1) + noise(2, 2));
    const double own = delta_e(*state, p);
    if (options.refuse_outliers && own > kOutlierDeltaE && own > kOutlierFactor * expected)
      return fail(
          ErrorCode::invalid_input,
          fmt::format("{}: this reading lies {:.1f} Delta E ITP from what all others say of the display, and its "
                      "noise explains {:.1f}",
                      p.name, own, expected),
          "Read this patch again, or take the reading out.", {.field = p.name});
    report.residuals.push_back(
        {.name = p.name, .delta_e_itp = own, .held_out_delta_e_itp = 0, .expected_delta_e_itp = expected});
  }
  // Without a field there is nothing between readings but the formula.
  const model::Field& known = state->field;
  state->posterior = model::Posterior(
      fit, state->points,
      known.empty() ? model::Kernel() : [known](const Vector& a, const Vector& b) { return known.covariance(a, b); },
      known.rest());
  if (options.diagnose) hold_out(ready->start, *state, report);
  return DisplayModel(std::move(state));
}

colour::AbsoluteXyz<> DisplayModel::light(const colour::SignalRgb<>& signal) const {
  const auto part = [](double x) { return std::isfinite(x) ? std::clamp(x, 0.0, 1.0) : 0.0; };
  const colour::SignalRgb<> s{.r = part(signal.r), .g = part(signal.g), .b = part(signal.b)};
  return xyz_of(light_at(*state_, state_->container_light(s), {1, 1, 1}));
}

Predicted DisplayModel::predict(const colour::SignalRgb<>& signal) const {
  const State& s = *state_;
  const Vector container = s.container_light(signal);
  const Eigen::Matrix3d own =
      s.posterior.at(s.fit, std::span(&container, 1)) + s.field.rest() * s.field.rest() * Eigen::Matrix3d::Identity();
  Predicted out{.light = light(signal), .covariance = model::matrix_of(own), .delta_e_itp = 0};
  out.delta_e_itp = kDeltaE * std::sqrt(std::max(own.trace(), 0.0));
  out.known = out.delta_e_itp <= kUnknownDeltaE;
  return out;
}

DisplayModel::Inverse DisplayModel::signal_for(const colour::AbsoluteXyz<>& light) const {
  constexpr int kSteps = 8;
  constexpr double kThere = 2e-3;   // Delta E ITP
  constexpr double kGaining = 0.6;  // what a step must leave of the error at most: beyond the display nothing is gained
  const State& s = *state_;
  const Vector asked{light.X, light.Y, light.Z};
  const Vector asked_itp = model::itp_of(asked);
  Vector aim = asked, channels = s.fit.physics.half_way();
  Inverse best{.signal = {}, .delta_e_itp = 1e9};
  for (int step = 0; step < kSteps; ++step) {
    channels = s.fit.physics.channels_for(aim, channels);
    const Vector container = s.fit.physics.container_light(s.fit.physics.drives_of(channels));
    colour::SignalRgb<> signal = s.light.signal({.r = container[0], .g = container[1], .b = container[2]});
    for (double* x : {&signal.r, &signal.g, &signal.b}) *x = std::min(*x, 1.0);
    const Vector shown = light_at(s, s.container_light(signal), {1, 1, 1});
    const Vector itp = model::itp_of(shown);
    const double error = kDeltaE * length({itp[0] - asked_itp[0], itp[1] - asked_itp[1], itp[2] - asked_itp[2]});
    const bool gaining = step < 2 || error < kGaining * best.delta_e_itp;
    if (error < best.delta_e_itp) best = {.signal = signal, .delta_e_itp = error};
    if (error < kThere || !gaining) break;
    for (int k = 0; k < 3; ++k) aim[k] += asked[k] - shown[k];
  }
  return best;
}

colour::Luminance<> DisplayModel::peak_of(const colour::Xy<>& chromaticity) const {
  constexpr double kReached = 0.3;  // Delta E ITP
  double low = 0, high = 2 * state_->fit.physics.start().top_cdm2;
  for (int i = 0; i < 30; ++i) {
    const double middle = (low + high) / 2;
    const auto there = signal_for(colour::xyz_from_xy(chromaticity, colour::Luminance<>{.cdm2 = middle}));
    (there.delta_e_itp < kReached ? low : high) = middle;
  }
  return {.cdm2 = low};
}

std::array<colour::Xy<>, 3> DisplayModel::primaries() const {
  const auto& physics = state_->fit.physics;
  std::array<colour::Xy<>, 3> out;
  for (int c = 0; c < 3; ++c) {
    const Vector q = physics.colour(c, physics.start().top_cdm2);
    out[c] = colour::xy_from_xyz(xyz_of(q));
  }
  return out;
}

colour::AbsoluteXyz<> DisplayModel::black() const {
  return light({.r = 0, .g = 0, .b = 0});
}

const signal::Encoding& DisplayModel::encoding() const {
  return state_->encoding;
}

const ModelReport& DisplayModel::report() const {
  return state_->report;
}

}  // namespace provenit::correct
