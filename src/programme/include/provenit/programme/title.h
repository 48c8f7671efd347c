#pragma once
// From the frames of a title to the title: light levels with and without bars, and their course over time.
#include <array>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>
#include <vector>

#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// Mean |difference| of the blocks of two frames as PQ signal, 0 to 1; 0 if their maps differ in size.
[[nodiscard]] double temporal_difference(const FrameRecord& before, const FrameRecord& frame);

/// What a title needs of each frame: small enough to keep for all frames of a film.
struct FrameLight {
  std::int64_t index = 0;
  double time_s = 0;
  double max_rgb_max = 0, max_rgb_robust = 0, max_rgb_mean = 0, max_rgb_mean_active = 0;  ///< cd/m2, see figures.h
  double luminance_mean = 0, luminance_99_9 = 0;                                          ///< cd/m2
  ActiveArea active;                                                                      ///< of the frame alone
};
[[nodiscard]] FrameLight light_of(const FrameFigures& figures);

/// The active picture with hysteresis; entry i holds for frame i. It changes at once where a frame reaches outside it,
/// and shrinks where all frames of the coming 5 s stay inside a smaller rectangle that spans the frame's width or
/// height or 40 % of its area (a title on black is not a letterbox). Method of ours, docs/survey.md.
[[nodiscard]] std::vector<ActiveArea> steady_areas(std::span<const FrameLight> frames, int width, int height);

struct AtFrame {
  double cdm2 = 0;
  std::int64_t index = 0;
  double time_s = 0;
  friend bool operator==(const AtFrame&, const AtFrame&) = default;
};

struct TitleFigures {
  std::int64_t frames = 0;
  AtFrame maxcll;               ///< CTA-861.3-A A.1: largest max(R,G,B) of all pixels
  AtFrame maxcll_robust;        ///< the same of levels that fill a 3 x 3 square
  AtFrame maxfall_active;       ///< CTA-861.3-A A.2: largest mean of max(R,G,B) inside the active picture
  AtFrame maxfall_full;         ///< the same over the whole frame, bars included
  AtFrame mean_luminance_full;  ///< largest mean luminance: what is sometimes declared as MaxFALL by mistake
  double mean_of_means = 0;     ///< mean over the frames of the whole-frame mean of max(R,G,B)
  /// Percentiles (kPercentiles, nearest rank) over the frames of the frame's maximum, its 99.9 % luminance and its mean
  /// of max(R,G,B) inside the active picture.
  std::array<double, kPercentiles.size()> peak_percentile{}, high_percentile{}, mean_percentile{};
  friend bool operator==(const TitleFigures&, const TitleFigures&) = default;
};
/// Of frames in order; the first of equals gives the time. Zeros for no frame.
[[nodiscard]] TitleFigures title_figures(std::span<const FrameLight> frames, int width, int height);

/// Whole cd/m2 as the 16-bit metadata fields hold them: half up, at most 65535.
[[nodiscard]] int declared_whole_cdm2(double cdm2);

/// One declared figure against the measured one.
struct DeclaredCheck {
  std::string name;  ///< "MaxCLL", "MaxFALL", "mastering primaries", "mastering maximum", "mastering minimum"
  std::string declared, measured;
  bool agrees = false;
  std::string explanation;  ///< why they differ, where a known cause fits; empty if they agree
};
/// Empty without metadata. MaxCLL and MaxFALL agree if the declared whole number is the measured figure rounded. Known
/// causes are recognised: mean luminance or full-frame mean declared, lone overshoot above a clean clip, mastering
/// fields in the wrong order (the primaries of a known gamut, permuted) or unit (10 000 times too small or large).
[[nodiscard]] std::vector<DeclaredCheck> check_declared(const StaticMetadata& declared, const TitleFigures& measured);

[[nodiscard]] nlohmann::ordered_json to_json(const TitleFigures& figures);
[[nodiscard]] nlohmann::ordered_json to_json(std::span<const DeclaredCheck> checks);

/// Every figure of a frame under the names of the CSV columns.
[[nodiscard]] nlohmann::ordered_json to_json(const FrameFigures& figures);

}  // namespace provenit::programme
