#pragma once
// Is the display better with the correction? Paired: the same colours with and without it, read in one run, on colours
// the solver has not seen.
#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"

namespace provenit::correct {

/// One colour, without and with the correction, drift taken out.
struct ProofPair {
  std::string name;
  colour::AbsoluteXyz<> asked;                  ///< what the goal wants shown
  colour::AbsoluteXyz<> before, after;          ///< as read
  colour::Matrix3<> before_noise, after_noise;  ///< covariance of each reading, (cd/m2)^2
};

/// Errors that all readings share: relative of Y, of X against Y and of Z against Y, and the zero of each.
struct SharedErrors {
  double luminance = 0;   ///< standard uncertainty of the scale, relative
  double dx = 0, dy = 0;  ///< of the calibration white's chromaticity
  double zero_cdm2 = 0;   ///< of each channel's zero
};

enum class ProofVerdict { better, worse, no_difference_shown };
[[nodiscard]] const char* text_of(ProofVerdict verdict);  ///< "better", "worse", "no difference shown"

/// A mean over colours with its 95 % interval.
struct ProofFigure {
  double value = 0, standard_uncertainty = 0, lower = 0, upper = 0;
};

struct ProofRegion {
  std::string name;  ///< "all", "near black", "greys", "dark", "bright", "saturated"
  int colours = 0;
  ProofFigure before, after;  ///< mean Delta E ITP; noise of the readings makes both larger than the display's
  ProofFigure gain;           ///< mean of before - after: above 0 is better
  ProofVerdict verdict = ProofVerdict::no_difference_shown;
};

struct ProofResult {
  std::vector<ProofRegion> regions;      ///< "all" first; regions without at least four colours are left out
  double before_p95 = 0, after_p95 = 0;  ///< 95th percentiles over the colours
  ProofFigure grey_before, grey_after;   ///< mean Delta u'v' of the greys from the asked white, those above 0.05 cd/m2
  int draws = 0;
};

inline constexpr int kFewestPairs = 12;

/// Monte Carlo: each draw takes the instrument's shared errors, the noise of each reading, and a sample of the colours
/// with replacement, so that the interval is about colours like these and not these alone. Shared errors act on both
/// readings of a pair alike, which is what makes a small gain visible.
/// in      at least kFewestPairs pairs
/// errors  invalid_input naming the pair: not finite, asked light of no luminance; too few pairs
/// source  JCGM 101:2008 (propagation of distributions); Efron, Tibshirani, An Introduction to the Bootstrap (1993),
/// from
///         memory; BT.2124-0 (Delta E ITP)
[[nodiscard]] Result<ProofResult> prove(std::span<const ProofPair> pairs, const SharedErrors& shared,
                                        std::uint64_t seed);

}  // namespace provenit::correct
