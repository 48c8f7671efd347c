#pragma once
#include <optional>

#include "provenit/base/error.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// The newest measured or simulated reading of the loan (imported ones have no place in its time).
[[nodiscard]] Result<std::optional<store::ReadingRecord>> last_reading(const store::Bench& bench,
                                                                       const store::LoanRecord& loan);
/// The newest run of each procedure that has readings: finished before open ones; aborted ones do not count.
[[nodiscard]] Result<std::vector<store::RunRecord>> current_runs(const store::Bench& bench,
                                                                 const store::LoanRecord& loan);

}  // namespace provenit::loan
