#pragma once
// Frames of a title in its report: as they are meant, as the display would show them, and how far apart the two are.
#include <string>
#include <vector>

#include "provenit/loan/loan.h"

namespace provenit::cli {

/// Adds pictures to the moments of each title's forecast whose film is among `films`, known by its file's name. Errors:
/// not_found for a film that no title with a forecast is of; those of forecast_of, chosen_frames and forecast_frame.
[[nodiscard]] Result<void> add_frames(report::Contents& contents, const store::Bench& bench,
                                      const store::LoanRecord& loan, const std::vector<std::string>& films);

}  // namespace provenit::cli
