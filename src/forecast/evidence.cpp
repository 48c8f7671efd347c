#include "provenit/forecast/evidence.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "provenit/evaluation/measurement_model.h"
#include "provenit/instrument/placement.h"

namespace provenit::forecast {
namespace {

constexpr std::array<std::string_view, 6> kProcedures{"window_peak",  "black_level", "halo",
                                                      "checkerboard", "uniformity",  kSpotsProcedure};

/// Standard uncertainty without the errors that all readings of the instrument share.
double own_uncertainty(const colour::Uncertain& value, const evaluation::Light& light) {
  double variance = 0;
  for (const auto& term : value.terms()) {
    const bool common = std::ranges::any_of(light.instrument, [&](const auto& s) { return s.id == term.source; });
    const double u = term.derivative * light.sources[term.source].standard_uncertainty;
    if (!common) variance += u * u;
  }
  return std::sqrt(variance);
}

}  // namespace

Result<std::vector<SpotReading>> spot_readings(std::span<const evaluation::RunData> runs,
                                               const evaluation::EvaluationInput& input) {
  const auto light = evaluation::model_light(runs, input);
  if (!light) return tl::unexpected(light.error());
  std::vector<SpotReading> out;
  for (const auto& run : light->runs) {
    if (std::ranges::find(kProcedures, run.procedure) == kProcedures.end()) continue;
    for (const auto& step : run.steps) {
      instrument::Placement place;
      if (step.context.contains("placement")) {
        const auto read = instrument::placement_from_json(step.context["placement"]);
        if (!read) return tl::unexpected(read.error());
        place = *read;
      }
      const bool as_found = step.context.value("local_dimming", "as_found") == "as_found";
      if (!as_found || place.horizontal_deg != 0 || place.vertical_deg != 0) continue;
      out.push_back({.name = run.procedure + " " + step.key,
                     .signal = step.signal,
                     .x = place.x,
                     .y = place.y,
                     .light = {.X = step.light.X.value(), .Y = step.light.Y.value(), .Z = step.light.Z.value()},
                     .standard_uncertainty_cdm2 = own_uncertainty(step.light.Y, *light)});
    }
  }
  return out;
}

}  // namespace provenit::forecast
