#pragma once
// A loan's forecast: reads the spots that the standard procedures leave open, gathers what a forecast is made from, and
// tells whether it holds.
#include "provenit/base/error.h"
#include "provenit/forecast/display.h"
#include "provenit/loan/correction.h"
#include "provenit/loan/devices.h"
#include "provenit/procedure/runner.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// What is read: what the forecast is fitted to; what says how far it is off; the eye check, which says whether it
/// holds.
enum class SpotPart { probes, checks, eye };
[[nodiscard]] const char* name_of(SpotPart part);  ///< "probes", "checks", "eye"
[[nodiscard]] std::optional<SpotPart> spot_part_from_name(std::string_view name);

/// Reads one part, place by place. An open run goes on; a finished one is left as it is unless `again`.
/// Errors: those of run_procedure.
[[nodiscard]] Result<procedure::RunOutcome> read_spots(store::Bench& bench, const store::LoanRecord& loan,
                                                       Devices& devices, SpotPart part, bool again,
                                                       const CorrectionHooks& hooks);

struct LoanForecast {
  forecast::ForecastDisplay display;
  std::optional<forecast::EyeCheck> eye;  ///< of the newest readings for it
  std::vector<std::string> missing;       ///< what would make it surer, each with the command
};
/// From the newest runs of display_model, window_peak, black_level, halo, checkerboard, uniformity and of the spots,
/// and from the zones counted. Errors: not_found naming what there must be; those of model_of, spot_readings and
/// ForecastDisplay::fit.
[[nodiscard]] Result<LoanForecast> forecast_of(const store::Bench& bench, const store::LoanRecord& loan);

}  // namespace provenit::loan
