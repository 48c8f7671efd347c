#pragma once
// What a chain makes of codes, from captured frames: levels of a ramp that stay apart, and where and how steps around
// the peak clip. Signal as the display's processing hands it on, not light. Methods and limits:
// docs/methods/ramp_capture.md, clip_capture.md.
#include <optional>
#include <string>
#include <vector>

#include "provenit/evaluation/captures.h"

namespace provenit::evaluation {

struct RampLevels {
  int sent = 0;                     ///< levels in the picture
  int clipped = 0;                  ///< of them lost in ends at one level
  Figure kept;                      ///< levels that stay apart, counted from the first
  Figure bits;                      ///< bits of the picture + log2(steps kept / steps sent), without the clipped ends
  Figure largest_step;              ///< largest difference of neighbouring levels, in code values of the picture
  bool capture_too_coarse = false;  ///< the file has fewer codes than the picture: `kept` and `bits` are lower bounds
  double scatter_codes = 0;         ///< standard deviation of a pixel about its level, code values: dither or noise
  struct Step {
    int code = 0;  ///< of the upper level
    double rise_codes = 0;
  };
  std::vector<Step> steps;
};
/// A level stays apart when it lies above the one before by at least half of the mean rise around it, so that a tone
/// curve does not count as loss. `picture` is luminance_ramp, the frame is of its raster, pixel for pixel.
/// errors  invalid_input for another picture or size, fewer than 16 levels, or if it does not rise
/// source  ours (the rule of half a step: as steps_resolved)
[[nodiscard]] Result<RampLevels> measure_ramp(const CapturedFrame& frame, const signal::TestPicture& picture);

struct ClipCapture {
  std::optional<Figure> clip_cdm2;   ///< light of the code at which white's steps end; nullopt: they rise to the end
  std::optional<Figure> start_cdm2;  ///< light sent from which what is left stays below 95 %; nullopt: it does not
  std::optional<Figure> softness_percent;  ///< largest shortfall from a hard clip at clip_cdm2; nullopt as clip_cdm2
  std::string kind;                        ///< "hard", "rolled", "not sure"; empty as clip_cdm2
  struct Hue {
    std::string colour;
    Figure shift_degrees;  ///< largest |change of hue| over the steps
    double signed_degrees = 0;
  };
  std::vector<Hue> hues;  ///< orange, mint, violet
  struct Step {
    double sent_cdm2 = 0, left_cdm2 = 0;
  };
  std::vector<Step> white;
};
/// Codes are put on the picture's scale by black and the lowest white step, which are taken as unchanged; light is that
/// of the encoding's reference display. Hue: angle of ICtCp of what is left less that of the light sent at the same
/// luminance, against that at the lowest step. `picture` is clip_steps, the frame is of its raster, pixel for pixel.
/// errors  invalid_input for another picture or size, or if the steps do not rise from black
/// source  Rec. ITU-R BT.2100-3 (ICtCp, EOTFs), BT.1886-0; rules: ours
[[nodiscard]] Result<ClipCapture> measure_clip(const CapturedFrame& frame, const signal::TestPicture& picture);

}  // namespace provenit::evaluation
