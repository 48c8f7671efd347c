#pragma once
// The forecast of a title on the planned loan's display.
#include <string>

#include "provenit/farm/job.h"
#include "provenit/loan/forecast.h"

namespace provenit::farm {

struct DisplayOfLoan {
  store::Id loan = 0;
  forecast::ForecastDisplay display;
};
/// From the bytes of a bench. They are opened as a file of this machine's own: databases on a network file system
/// cannot be opened by several machines at once. Errors: those of Bench::open and forecast_of; not_found without a
/// loan; io.
[[nodiscard]] Result<DisplayOfLoan> display_of(const std::string& bench, store::Id loan);

/// Makes it from the survey that is there. Errors: invalid_input if the copied bench was changed; those of display_of
/// and SurveyFile::open; io.
[[nodiscard]] Result<void> write_forecast(const Job& job, std::size_t title);

}  // namespace provenit::farm
