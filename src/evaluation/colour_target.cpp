#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "colour_target_internal.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/encoding.h"

namespace provenit::evaluation {

using colour::AbsoluteXyz;
using colour::Uncertain;

ColourTarget::ColourTarget(const Study& study, const RunLight& run)
    : surround_cdm2_(study.input.surround_cdm2.value_or(5)), white_(run.find("white")), black_(run.find("black")) {
  if (white_ == nullptr || !(white_->light.Y > 0.0)) return;
  encoding_ = white_->signal.encoding;
  to_xyz_ = colour::rgb_to_xyz_matrix(signal::primaries_of(encoding_.container));
  known_ = encoding_.transfer == signal::Transfer::pq || black_ != nullptr;
  inputs_ = {white_->light.Y};
  if (black_ != nullptr) inputs_.push_back(black_->light.Y);
}

ColourTarget::Display ColourTarget::display_at(std::span<const double> errors) const {
  return {.peak_cdm2 = white_->light.Y.at(errors),
          .black_cdm2 = black_ == nullptr ? 0 : std::max(0.0, black_->light.Y.at(errors))};
}

AbsoluteXyz<> ColourTarget::at(const signal::CodeRgb& code, const Display& display, bool clipped) const {
  using colour::Luminance;
  const auto s = signal::signal_of(encoding_, code);
  const Luminance<> peak{.cdm2 = display.peak_cdm2}, black{.cdm2 = display.black_cdm2};
  if (encoding_.transfer == signal::Transfer::hlg) {
    const auto shown = colour::hlg_display(peak, black, Luminance<>{.cdm2 = surround_cdm2_});
    return colour::xyz_from_rgb(colour::hlg_eotf(s, shown), to_xyz_);
  }
  if (encoding_.transfer == signal::Transfer::bt1886)
    return colour::xyz_from_rgb(colour::bt1886_eotf(s, colour::Bt1886Display<>{.peak = peak, .black = black}), to_xyz_);
  auto light = colour::pq_eotf(s);
  if (clipped)
    for (double* channel : {&light.r, &light.g, &light.b}) *channel = std::min(*channel, display.peak_cdm2);
  return colour::xyz_from_rgb(light, to_xyz_);
}

void ColourTarget::use(store::FindingRecord& finding, const RunLight& run) const {
  for (const auto* step : {white_, black_})
    if (step != nullptr) use_step(finding, run, *step);
}

Method ColourTarget::method(const char* what, const std::vector<std::string>& documents) const {
  Method out;
  switch (encoding_.transfer) {
    case signal::Transfer::hlg:
      out = {
          fmt::format("{}/BT.2100-3-HLG", what), 1, {"Rec. ITU-R BT.2100-3 (HLG EOTF, black lift and system gamma)"}};
      break;
    case signal::Transfer::bt1886:
      out = {fmt::format("{}/BT.1886-0", what), 1, {"Rec. ITU-R BT.1886-0 (03/2011)"}};
      break;
    case signal::Transfer::pq:
      out = {fmt::format("{}/BT.2100-3-PQ", what), 1, {"Rec. ITU-R BT.2100-3 (PQ EOTF)"}};
      break;
  }
  out.sources.insert(out.sources.end(), documents.begin(), documents.end());
  return out;
}

namespace {

colour::Ictcp<> ictcp_of(const AbsoluteXyz<>& light) {
  constexpr auto to_rgb = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
  return colour::ictcp_from_pq_rgb(colour::rgb_from_xyz(light, to_rgb));
}

}  // namespace

std::array<double, 3> itp_between(const AbsoluteXyz<>& light, const AbsoluteXyz<>& target) {
  const auto a = colour::itp_from_ictcp(ictcp_of(light)), b = colour::itp_from_ictcp(ictcp_of(target));
  return {720 * (a.i - b.i), 720 * (a.t - b.t), 720 * (a.p - b.p)};
}

std::array<double, 3> ciede2000_between(const AbsoluteXyz<>& light, const AbsoluteXyz<>& target,
                                        const AbsoluteXyz<>& white) {
  const auto a = colour::lab_from_xyz(light, white), b = colour::lab_from_xyz(target, white);
  const std::array<double, 3> d{a.L - b.L, a.a - b.a, a.b - b.b};
  const double length = std::hypot(d[0], d[1], d[2]);
  if (!(length > 0)) return {};
  const double k = colour::ciede2000(b, a) / length;
  return {k * d[0], k * d[1], k * d[2]};
}

double ictcp_hue_degrees(const AbsoluteXyz<>& light) {
  const auto c = ictcp_of(light);
  return std::atan2(c.cp, c.ct) * 180 / std::numbers::pi;
}

double turn_between(double a_degrees, double b_degrees) {
  return std::remainder(a_degrees - b_degrees, 360.0);
}

std::vector<const StepLight*> steps_with_prefix(const RunLight& run, std::string_view prefix) {
  std::vector<const StepLight*> out;
  for (const auto& step : run.steps)
    if (std::string_view(step.key).starts_with(prefix)) out.push_back(&step);
  return out;
}

std::vector<Uncertain> inputs_of(std::span<const StepLight* const> steps, const ColourTarget& target) {
  std::vector<Uncertain> inputs = target.inputs();
  for (const auto* s : steps) inputs.insert(inputs.end(), {s->light.X, s->light.Y, s->light.Z});
  return inputs;
}

std::vector<std::vector<colour::SourceId>> own_sources_of(std::span<const StepLight* const> steps,
                                                          const ColourTarget& target, const Study& study,
                                                          const StepLight* base) {
  std::vector<std::vector<colour::SourceId>> out;
  for (const auto* s : steps)
    out.push_back(s == base || target.uses(*s) ? std::vector<colour::SourceId>{}
                                               : repeatability_of(*s, study.light.sources));
  return out;
}

SampledVectors sample_vectors(const Study& study, const Vectors& vectors, std::span<const Uncertain> inputs,
                              int draws) {
  SampledVectors out{.problem = length_problem(study, vectors, inputs), .sampling = {}};
  const std::size_t n = out.problem.size();
  out.problem.errors.resize(static_cast<std::size_t>(draws) * n);
  std::vector<double> at(n);
  out.sampling = sample_errors(study, inputs, draws, [&](std::size_t i, std::span<const double> errors) {
    vectors.at(errors, at);
    for (std::size_t k = 0; k < n; ++k)
      out.problem.errors[i * n + k] = static_cast<float>(out.problem.measured[k] - at[k]);
  });
  return out;
}

void set_count(store::FindingRecord& finding, double value, double least, double most, const char* interval_method) {
  finding.value = std::clamp(value, least, most);
  finding.lower95 = least;
  finding.upper95 = most;
  finding.standard_uncertainty = (most - least) / std::sqrt(12.0);
  finding.interval_method = interval_method;
  finding.dominant = most > least ? "repeatability: steps not told apart" : "all steps are told apart";
  finding.parts["variance"] = nlohmann::json::array();
}

}  // namespace provenit::evaluation
