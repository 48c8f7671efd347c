#pragma once
#include <vector>

#include "provenit/forecast/display.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// Share of the readings within their intervals, and the median error where there is light, without loan, readings and
/// time. Empty without readings.
[[nodiscard]] std::vector<store::FindingRecord> findings_of(const forecast::EyeCheck& eye);

/// Of the loan's newest eye check; empty where there is none, or nothing yet to forecast from.
/// Errors: those of forecast_of but not_found.
[[nodiscard]] Result<std::vector<store::FindingRecord>> eye_check_findings(const store::Bench& bench,
                                                                           const store::LoanRecord& loan);

}  // namespace provenit::loan
