#pragma once
// From the frames of a title to the title: light levels with and without bars, and their course over time.
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// Sets temporal_difference of each frame from the blocks of the one before.
void complete_frames(std::span<FrameRecord> frames);

/// The active picture with hysteresis: entry i holds for frame i. Definition: docs/survey.md.
[[nodiscard]] std::vector<ActiveArea> steady_areas(std::span<const FrameRecord> frames, int width, int height);

struct AtFrame {
  double cdm2 = 0;
  std::int64_t index = 0;
  double time_s = 0;
};

struct TitleFigures {
  AtFrame maxcll;               ///< CTA-861.3-A A.1: largest max(R,G,B) of all pixels
  AtFrame maxcll_robust;        ///< the same of levels that fill a 3 x 3 square
  AtFrame maxfall_active;       ///< CTA-861.3-A A.2: largest mean of max(R,G,B) inside the active picture
  AtFrame maxfall_full;         ///< the same over the whole frame, bars included
  AtFrame mean_luminance_full;  ///< largest mean luminance: what is sometimes declared as MaxFALL by mistake
  double mean_of_means = 0;     ///< mean over frames of the whole-frame mean of max(R,G,B)
  /// Over frames: the percentiles of kPercentiles of max_rgb_max, 99.9 % luminance and max_rgb_mean_active.
  std::array<double, kPercentiles.size()> peak_percentile{}, high_percentile{}, mean_percentile{};
};
/// Zeros for no frame. Damaged frames count: leave them out yourself.
[[nodiscard]] TitleFigures title_figures(std::span<const FrameRecord> frames, int width, int height);

/// One declared figure against the measured one.
struct DeclaredCheck {
  std::string name;  ///< "MaxCLL", "MaxFALL", "mastering primaries", "mastering maximum", ...
  std::string declared, measured;
  bool agrees = false;
  std::string explanation;  ///< why they differ, where a known cause fits; empty if they agree
};
/// MaxCLL and MaxFALL agree if the declared whole number is the measured figure rounded. Known causes are recognised:
/// mean luminance or full-frame mean declared, overshoot above a clean clip, fields in the wrong order or unit.
[[nodiscard]] std::vector<DeclaredCheck> check_declared(const StaticMetadata& declared, const TitleFigures& measured);

}  // namespace provenit::programme
