#pragma once
// Which patches to read next: those that lower the expected error of the corrected display most per second.
#include <functional>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/correct/display_model.h"
#include "provenit/correct/reading_noise.h"

namespace provenit::correct {

using CostOf = std::function<ReadingCost(const colour::AbsoluteXyz<>&)>;

struct ChosenPatch {
  colour::SignalRgb<> signal;
  double expected_delta_e_itp = 0;  ///< root mean square over the targets once it has been read
};

/// The next patches, one after the other, each as if those before had been read: that which lowers the sum of variances
/// of I, T and P over the targets most per second. A patch may be chosen more than once.
/// in      candidates and targets: signals; cost_of is asked with the model's light of each candidate
/// out     `count` patches, or fewer if nothing more can be gained; the same for the same input
/// source  sequential design for the integrated variance of a Gaussian process (active learning after Cohn, 1996; from
///         memory); Bayesian linear design: Chaloner, Verdinelli, Statistical Science 10, 273 (1995)
[[nodiscard]] std::vector<ChosenPatch> next_patches(const DisplayModel& model,
                                                    const std::vector<colour::SignalRgb<>>& candidates,
                                                    const std::vector<colour::SignalRgb<>>& targets,
                                                    const CostOf& cost_of, int count);

/// What to read before there is a model: black, white, greys, full and half primaries and their mixtures, a few levels
/// beyond the expected peak. In an order that spreads dark and bright.
[[nodiscard]] std::vector<colour::SignalRgb<>> first_patches(const signal::Encoding& encoding,
                                                             colour::Luminance<> expected_peak);

/// Colours that a correction is for: half of them spread evenly over the target's R', G', B' up to the peak (a Halton
/// sequence), half near its greys, in the display's encoding.
/// in      primaries: of the target; peak: cd/m2; first: where in the sequence to begin, so that two calls share none
[[nodiscard]] std::vector<colour::SignalRgb<>> target_signals(const signal::Encoding& encoding,
                                                              const colour::Primaries<>& primaries,
                                                              colour::Luminance<> peak, int count, int first = 0);

/// Greys of equal steps in PQ between two luminances, in the display's encoding: near black, where noise is large and
/// the eye sees a tint, they count as targets of their own.
[[nodiscard]] std::vector<colour::SignalRgb<>> grey_signals(const signal::Encoding& encoding, colour::Luminance<> from,
                                                            colour::Luminance<> to, int count);

/// What is chosen from and for: candidates over the target's colours, the first patches and greys; targets over its
/// colours up to nearly the peak, and greys from 0.03 to 2 cd/m2.
struct PatchChoice {
  std::vector<colour::SignalRgb<>> candidates, targets;
};
[[nodiscard]] PatchChoice patch_choice(const signal::Encoding& encoding, const colour::Primaries<>& primaries,
                                       colour::Luminance<> peak);

/// Patches of a batch after this many were read: a share of them, as early models are poor and late ones take long.
[[nodiscard]] int batch_size(int read);

}  // namespace provenit::correct
