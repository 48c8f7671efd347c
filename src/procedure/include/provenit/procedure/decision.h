#pragma once
// How sure a finding will be, and how likely that decides its question: the planner's model, for planning only.
// Findings and verdicts come from evaluation, which propagates the real readings.
#include <optional>

#include "provenit/instrument/instrument.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/store/records.h"

namespace provenit::procedure {

/// What is believed of a quantity before measuring, in its unit.
struct Belief {
  double mean = 0;
  double spread = 0;  ///< standard deviation
};

/// Standard uncertainty of the finding to come: sqrt(common^2 + single^2 / n) after n repeats, in the quantity's unit.
struct ExpectedUncertainty {
  double common = 0;  ///< from the certificate and the method: no repeat lowers it
  double single = 0;  ///< of one reading or pass
  [[nodiscard]] double after(int repeats) const;
};

/// Belief where nothing was measured yet: the limit itself (the middle of a range), with the spread by which displays
/// lie off such limits; the spreads are this project's own (common practice, no source) and listed in
/// docs/methods/planner.md.
[[nodiscard]] Belief belief_from_limit(const Quantity& quantity, const store::QuestionRecord& question);

/// Uncertainty of the quantity near `value`. Sensitivities are those of a white near D65 (calculated, see
/// docs/methods/planner.md); ratios of two luminances cancel the certificate's scale.
[[nodiscard]] ExpectedUncertainty expected_uncertainty(const Quantity& quantity, double value,
                                                       const instrument::Certificate& certificate,
                                                       const instrument::Capabilities& capabilities,
                                                       double expected_peak_cdm2);

/// Probability that the 95 % interval v +- 1.96 u of a value v ~ N(mean, spread^2 + u^2) holds none of the limits.
/// in      at least one of lower, upper; u >= 0, spread >= 0
/// out     [0, 1]; 1 if u = 0
[[nodiscard]] double decision_probability(std::optional<double> lower, std::optional<double> upper,
                                          const Belief& belief, double standard_uncertainty);

/// The finding's 95 % interval holds none of the question's limits.
[[nodiscard]] bool is_decided(const store::QuestionRecord& question, const store::FindingRecord& finding);

}  // namespace provenit::procedure
