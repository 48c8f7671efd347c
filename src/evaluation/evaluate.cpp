#include "provenit/evaluation/evaluate.h"

#include <algorithm>

#include "findings_internal.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

using Adder = void (*)(Findings&, const Study&, const RunLight&);
struct FindingsPart {
  const char* procedure;
  Adder add;
};
constexpr FindingsPart kParts[] = {{"warm_up", add_warm_up_findings},
                                   {"black_level", add_black_findings},
                                   {"window_peak", add_peak_findings},
                                   {"white_point", add_white_findings},
                                   {"primaries", add_primaries_findings},
                                   {"checkerboard", add_checkerboard_findings},
                                   {"uniformity", add_uniformity_findings},
                                   {"off_axis", add_off_axis_findings},
                                   {"halo", add_halo_findings},
                                   {"stability", add_stability_findings},
                                   {"sustained", add_sustained_findings},
                                   {"colour_volume", add_volume_findings},
                                   {"colour_volume", add_set_accuracy_findings},
                                   {"chart_accuracy", add_chart_findings},
                                   {"hue_linearity", add_hue_findings},
                                   {"clip_hue", add_clip_hue_findings}};

/// Those that can find a run unusable.
using Checked = Result<void> (*)(Findings&, const Study&, const RunLight&);
struct CheckedPart {
  const char* procedure;
  Checked add;
};
constexpr CheckedPart kCheckedParts[] = {{"greyscale", add_greyscale_findings},
                                         {"near_black", add_near_black_findings},
                                         {"step_resolution", add_step_resolution_findings}};

Result<void> add_findings_of(Findings& out, const Study& study, const RunLight& run, std::span<const RunData> runs) {
  for (const auto& part : kParts)
    if (run.procedure == part.procedure) part.add(out, study, run);
  for (const auto& part : kCheckedParts)
    if (run.procedure == part.procedure)
      if (auto ok = part.add(out, study, run); !ok) return ok;
  if (run.procedure == "spectra") add_spectra_findings(out, study, run, runs);
  return {};
}

/// Findings of a run, but for those that a newer run of its procedure gave under the same conditions.
void add_new(Findings& out, Findings of_run) {
  const auto known = std::ssize(out);
  for (auto& f : of_run) {
    const bool newer = std::any_of(out.begin(), out.begin() + known, [&](const store::FindingRecord& o) {
      return o.quantity == f.quantity && o.conditions == f.conditions;
    });
    if (!newer) out.push_back(std::move(f));
  }
}

std::ptrdiff_t place_in_catalogue(const store::FindingRecord& f) {
  return procedure::find_quantity(f.quantity) - procedure::catalogue().data();
}

}  // namespace

Result<std::vector<store::FindingRecord>> evaluate(std::span<const RunData> runs, const EvaluationInput& input) {
  if (input.monte_carlo_draws < 100)
    return fail(ErrorCode::out_of_range, "fewer than 100 Monte Carlo draws", "Ask for at least 100.",
                {.field = "monte_carlo_draws"});
  const auto light = model_light(runs, input);
  if (!light) return tl::unexpected(light.error());
  const Study study{*light, input};
  Findings out;
  for (const auto& run : light->runs) {
    Findings found;
    if (auto ok = add_findings_of(found, study, run, runs); !ok) return tl::unexpected(ok.error());
    add_new(out, std::move(found));
  }
  add_contrast_findings(out, study);
  std::ranges::stable_sort(out, {}, place_in_catalogue);
  return out;
}

}  // namespace provenit::evaluation
