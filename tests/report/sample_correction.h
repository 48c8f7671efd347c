#pragma once
#include <vector>

#include "provenit/store/records.h"

namespace provenit::report {

/// A table solved for the invented loan, from the readings of `run`.
[[nodiscard]] store::CorrectionRecord sample_correction(store::Id run);

/// Its proof over invented colours: better as a whole, worse near black, no difference shown for saturated colours.
/// Ids from `first` on; `readings` is left to the caller.
[[nodiscard]] std::vector<store::FindingRecord> sample_proof(store::Id first);

struct SampleColour {
  double asked_cdm2, before, after;
};
/// The colours of the proof.
[[nodiscard]] std::vector<SampleColour> sample_colours();

}  // namespace provenit::report
