#pragma once
// Readings -> findings with uncertainty. Pure: no clock, no file; random draws come from the seed passed in.
#include <cstdint>
#include <span>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/reading_matrix.h"
#include "provenit/instrument/instrument.h"
#include "provenit/store/records.h"

namespace provenit::evaluation {

struct RunData {
  store::RunRecord run;
  std::vector<store::ReadingRecord> readings;
};

struct EvaluationInput {
  signal::Encoding encoding;
  instrument::Certificate certificate;
  instrument::Capabilities capabilities;
  /// Sets the readings right before anything else; `certificate` is then the reference's, with the zero of the
  /// instrument that read.
  std::optional<ReadingMatrix> matrix;
  std::optional<double> surround_cdm2;  ///< for the HLG system gamma
  std::uint64_t seed = 1;
  int monte_carlo_draws = 20000;
  bool series = true;  ///< also the points of charts; the stop rule of a run does without
};

/// Every finding the readings of these runs support, in catalogue order. Findings that need several runs (the EOTF of
/// HLG needs black and peak) take them from whichever run has them. `id`, `loan`, `computed` and `software` are left
/// for the caller to fill. Errors: invalid_input naming the reading that cannot be used (no finding is computed from
/// part of a run in silence).
[[nodiscard]] Result<std::vector<store::FindingRecord>> evaluate(std::span<const RunData> runs,
                                                                 const EvaluationInput& input);

}  // namespace provenit::evaluation
