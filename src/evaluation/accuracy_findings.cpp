// Colour accuracy over a set of patches: mean, 95th percentile and largest Delta E ITP and CIEDE2000.
#include <algorithm>
#include <cmath>
#include <functional>

#include "colour_target_internal.h"
#include "provenit/signal/codes.h"

namespace provenit::evaluation {
namespace {

using Patches = std::vector<const StepLight*>;

struct Names {
  const char *mean, *p95, *largest;
};

double length_as_read(const LengthProblem& p, std::size_t j) {
  return std::hypot(p.measured[3 * j], p.measured[3 * j + 1], p.measured[3 * j + 2]);
}

/// One object per patch; docs/methods/colour_volume.md and chart_accuracy.md list the keys.
nlohmann::json series_of(const Study& study, const Patches& patches, const ColourTarget& target,
                         const LengthProblem& itp, const LengthProblem* ciede2000) {
  const std::vector<double> none(study.light.sources.size(), 0.0);
  const auto display = target.display_at(none);
  auto out = nlohmann::json::array();
  for (std::size_t j = 0; j < patches.size(); ++j) {
    const auto light = light_at(*patches[j], none), wanted = target.at(patches[j]->signal.patch, display);
    const auto xy = colour::xy_from_xyz(light), wanted_xy = colour::xy_from_xyz(wanted);
    nlohmann::json o{{"step", patches[j]->key},
                     {"code", patches[j]->signal.patch.code},
                     {"cdm2", light.Y},
                     {"x", xy.x},
                     {"y", xy.y},
                     {"target_cdm2", wanted.Y},
                     {"target_x", wanted_xy.x},
                     {"target_y", wanted_xy.y},
                     {"delta_i", itp.measured[3 * j] / 720},
                     {"delta_t", itp.measured[3 * j + 1] / 720},
                     {"delta_p", itp.measured[3 * j + 2] / 720},
                     {"delta_e_itp", length_as_read(itp, j)}};
    if (ciede2000 != nullptr) o["ciede2000"] = length_as_read(*ciede2000, j);
    out.push_back(std::move(o));
  }
  return out;
}

void add_three(Findings& out, const Study& study, const RunLight& run, const Patches& patches,
               const ColourTarget& target, const Method& method, const Names& names, SampledVectors& sampled,
               const nlohmann::json& parts, const nlohmann::json& series) {
  const auto add = [&](const char* quantity, LengthStatistic statistic) -> store::FindingRecord& {
    auto f = new_finding(quantity, nlohmann::json::object(), method);
    for (const auto* patch : patches) use_step(f, run, *patch);
    target.use(f, run);
    sampled.problem.statistic = statistic;
    set_length(f, length_interval(sampled.problem), sampled.sampling, study);
    f.parts.update(parts);
    f.parts["patches"] = patches.size();
    out.push_back(std::move(f));
    return out.back();
  };
  add(names.mean, LengthStatistic::mean).series = series;
  add(names.p95, LengthStatistic::percentile95);
  std::size_t worst = 0;
  for (std::size_t j = 1; j < patches.size(); ++j)
    if (length_as_read(sampled.problem, j) > length_as_read(sampled.problem, worst)) worst = j;
  add(names.largest, LengthStatistic::largest).parts["step"] = patches[worst]->key;
}

/// A difference of light and target as three numbers, for one state of the display.
using Difference = std::function<std::array<double, 3>(
    const colour::AbsoluteXyz<>& light, const colour::AbsoluteXyz<>& target, const ColourTarget::Display& display)>;

SampledVectors sample(const Study& study, const Patches& patches, const ColourTarget& target,
                      const Difference& difference) {
  const Vectors vectors{.points = patches.size(),
                        .dimension = 3,
                        .at =
                            [&](std::span<const double> errors, std::span<double> v) {
                              const auto display = target.display_at(errors);
                              for (std::size_t j = 0; j < patches.size(); ++j)
                                std::ranges::copy(difference(light_at(*patches[j], errors),
                                                             target.at(patches[j]->signal.patch, display), display),
                                                  v.begin() + static_cast<std::ptrdiff_t>(3 * j));
                            },
                        .own_sources = own_sources_of(patches, target, study)};
  return sample_vectors(study, vectors, inputs_of(patches, target),
                        std::min(study.input.monte_carlo_draws, kMostDraws));
}

SampledVectors sample_itp(const Study& study, const Patches& patches, const ColourTarget& target) {
  return sample(study, patches, target,
                [](const auto& light, const auto& wanted, const auto&) { return itp_between(light, wanted); });
}

const std::vector<std::string> kItpDocuments{"Rec. ITU-R BT.2124-0 (01/2019)"};
const std::vector<std::string> kLabDocuments{"ISO/CIE 11664-6:2014", "ISO/CIE 11664-4:2019"};

}  // namespace

void add_set_accuracy_findings(Findings& out, const Study& study, const RunLight& run) {
  const ColourTarget target(study, run);
  const auto patches = steps_with_prefix(run, "set_");
  if (!target.known() || patches.empty()) return;
  auto itp = sample_itp(study, patches, target);
  const auto series =
      study.input.series ? series_of(study, patches, target, itp.problem, nullptr) : nlohmann::json::array();
  add_three(out, study, run, patches, target, target.method("set-accuracy", kItpDocuments),
            {"volume_mean_delta_e_itp", "volume_p95_delta_e_itp", "volume_max_delta_e_itp"}, itp,
            nlohmann::json::object(), series);
}

void add_chart_findings(Findings& out, const Study& study, const RunLight& run) {
  const ColourTarget target(study, run);
  const auto patches = steps_with_prefix(run, "chart_");
  if (!target.known() || patches.empty()) return;
  // The perfect diffuser of the chart: the white that CIELAB is taken for, in the light that its code asks for.
  double level = run.parameters.is_object() ? run.parameters.value("white_cdm2", 203.0) : 203.0;
  if (run.parameters.contains("context") && run.parameters["context"].contains("expected_peak_cdm2"))
    level = std::min(level, run.parameters["context"]["expected_peak_cdm2"].get<double>());
  const auto code = signal::grey_code(patches.front()->signal.encoding, colour::Luminance<>{.cdm2 = level});
  if (!code) return;
  auto itp = sample_itp(study, patches, target);
  auto lab = sample(study, patches, target, [&](const auto& light, const auto& wanted, const auto& display) {
    return ciede2000_between(light, wanted, target.at(*code, display));
  });
  const std::vector<double> none(study.light.sources.size(), 0.0);
  const nlohmann::json parts{{"white_cdm2", target.at(*code, target.display_at(none)).Y}};
  const auto series =
      study.input.series ? series_of(study, patches, target, itp.problem, &lab.problem) : nlohmann::json::array();
  add_three(out, study, run, patches, target, target.method("chart-accuracy", kItpDocuments),
            {"chart_mean_delta_e_itp", "chart_p95_delta_e_itp", "chart_max_delta_e_itp"}, itp, parts, series);
  add_three(out, study, run, patches, target, target.method("chart-accuracy-ciede2000", kLabDocuments),
            {"chart_mean_ciede2000", "chart_p95_ciede2000", "chart_max_ciede2000"}, lab, parts,
            nlohmann::json::array());
}

}  // namespace provenit::evaluation
