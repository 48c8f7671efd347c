#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "greyscale_internal.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/codes.h"

namespace provenit::evaluation {
namespace {

const StepLight* step_of_code(const RunLight& run, const signal::CodeRgb& code) {
  const auto found = std::ranges::find_if(run.steps, [&](const auto& s) { return s.signal.patch == code; });
  return found == run.steps.end() ? nullptr : &*found;
}

// The window of the peak run with the greyscale's own geometry.
const StepLight* window_like(const RunLight* run, const signal::Geometry& geometry) {
  if (run == nullptr) return nullptr;
  const auto found = std::ranges::find_if(run->steps, [&](const auto& s) { return s.signal.geometry == geometry; });
  return found == run->steps.end() ? nullptr : &*found;
}

}  // namespace

Target::Target(const Study& study, const RunLight& greyscale) {
  if (greyscale.steps.empty()) return;
  encoding_ = greyscale.steps.front().signal.encoding;
  surround_cdm2_ = study.input.surround_cdm2.value_or(5);
  known_ = encoding_.transfer == signal::Transfer::pq;
  if (known_) return;
  const StepLight* peak = step_of_code(greyscale, signal::peak_code(encoding_));
  if (peak == nullptr) peak = window_like(study.light.find("window_peak"), greyscale.steps.front().signal.geometry);
  const StepLight* black = step_of_code(greyscale, signal::black_code(encoding_));
  if (const RunLight* dark = study.light.find("black_level"); black == nullptr && dark != nullptr)
    black = dark->find("black");
  if (peak == nullptr || black == nullptr || !(peak->light.Y > 0.0)) return;
  known_ = true;
  inputs_ = {peak->light.Y, black->light.Y};
  steps_ = {peak, black};
}

void Target::at(std::span<const double> signals, std::span<const double> errors, std::span<double> cdm2) const {
  using colour::Luminance;
  if (encoding_.transfer == signal::Transfer::pq) {
    for (std::size_t i = 0; i < signals.size(); ++i)
      cdm2[i] = colour::pq_eotf(colour::Signal<>{.value = signals[i]}).cdm2;
    return;
  }
  const double peak_cdm2 = inputs_[0].at(errors), black_cdm2 = std::max(0.0, inputs_[1].at(errors));
  if (encoding_.transfer == signal::Transfer::hlg) {
    const auto display = colour::hlg_display(Luminance<>{.cdm2 = peak_cdm2}, Luminance<>{.cdm2 = black_cdm2},
                                             Luminance<>{.cdm2 = surround_cdm2_});
    for (std::size_t i = 0; i < signals.size(); ++i)
      cdm2[i] = colour::hlg_eotf_grey(colour::Signal<>{.value = signals[i]}, display).cdm2;
    return;
  }
  const colour::Bt1886Display<> display{.peak = {.cdm2 = peak_cdm2}, .black = {.cdm2 = black_cdm2}};
  for (std::size_t i = 0; i < signals.size(); ++i)
    cdm2[i] = colour::bt1886_eotf(colour::Signal<>{.value = signals[i]}, display).cdm2;
}

Method Target::method(const char* what) const {
  switch (encoding_.transfer) {
    case signal::Transfer::hlg:
      return {fmt::format("{}/BT.2100-3-HLG", what),
              1,
              {"Rec. ITU-R BT.2100-3 (HLG EOTF, black lift and system gamma)", "Report ITU-R BT.2390-12, 6.2",
               "Rec. ITU-R BT.2124-0 (01/2019)"}};
    case signal::Transfer::bt1886:
      return {
          fmt::format("{}/BT.1886-0", what), 1, {"Rec. ITU-R BT.1886-0 (03/2011)", "Rec. ITU-R BT.2124-0 (01/2019)"}};
    case signal::Transfer::pq:
      break;
  }
  return {fmt::format("{}/BT.2100-3-PQ", what),
          1,
          {"Rec. ITU-R BT.2100-3 (PQ EOTF)", "SMPTE ST 2084:2014", "Rec. ITU-R BT.2124-0 (01/2019)"}};
}

nlohmann::json Target::details() const {
  nlohmann::json out = nlohmann::json::object();
  if (inputs_.empty()) return out;
  out["peak_cdm2"] = inputs_[0].value();
  out["black_cdm2"] = std::max(0.0, inputs_[1].value());
  if (encoding_.transfer == signal::Transfer::hlg) {
    const colour::Luminance<> peak{.cdm2 = inputs_[0].value()};
    out["surround_cdm2"] = surround_cdm2_;
    out["system_gamma"] =
        colour::hlg_system_gamma(peak) * colour::hlg_surround_factor(colour::Luminance<>{.cdm2 = surround_cdm2_});
    // The two formulas for gamma do not meet at 400 and 2000 cd/m2.
    for (double jump : {400.0, 2000.0})
      if (std::fabs(peak.cdm2 / jump - 1) < 0.03)
        out["note"] = fmt::format("the peak lies within 3 % of {:.0f} cd/m2, where the system gamma jumps", jump);
  }
  return out;
}

}  // namespace provenit::evaluation
