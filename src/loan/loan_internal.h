#pragma once
#include <optional>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/loan/devices.h"
#include "provenit/simulated/meter.h"
#include "provenit/simulated/physics.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// The newest measured or simulated reading of the loan (imported ones have no place in its time).
[[nodiscard]] Result<std::optional<store::ReadingRecord>> last_reading(const store::Bench& bench,
                                                                       const store::LoanRecord& loan);

/// Every run of the loan that has readings and was not aborted, in the order they were begun.
[[nodiscard]] Result<std::vector<evaluation::RunData>> runs_with_readings(const store::Bench& bench,
                                                                          const store::LoanRecord& loan);

/// How the display's controls were left: by the newest reading of the loan that set any. Empty if none did.
[[nodiscard]] Result<instrument::ControlSettings> controls_left(const store::Bench& bench,
                                                                const store::LoanRecord& loan);

/// The simulated meter that a record describes (details: `mismatch`), and the seed of its errors and noise (details:
/// `seed`, else the loan's).
[[nodiscard]] simulated::MeterModel simulated_meter_of(const store::InstrumentRecord& record);
[[nodiscard]] std::uint64_t meter_seed(const store::InstrumentRecord& record, const store::LoanRecord& loan);

/// What a light sensor before this display would record, or a frame grabber behind its processing, as files; nullopt
/// for zones of a display that has none. Deterministic in the seed.
[[nodiscard]] std::optional<std::vector<RecordedFile>> simulated_recording(const simulated::DisplayPhysics& physics,
                                                                           const signal::Encoding& encoding,
                                                                           const procedure::Recording& recording,
                                                                           std::uint64_t seed);

}  // namespace provenit::loan
