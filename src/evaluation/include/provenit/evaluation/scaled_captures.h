#pragma once
// How finely a chain shows what it scales: rise and modulation transfer of leaning edges, and the share of waves that
// turn into others, from captured frames. Signal (code values), not light. Method and limits:
// docs/methods/scaling_capture.md, alias_capture.md.
#include <optional>
#include <vector>

#include "provenit/evaluation/captures.h"

namespace provenit::evaluation {

struct EdgeResponse {
  bool across = true;           ///< detail along the width (an upright edge); otherwise down the height
  Figure rise_source_px;        ///< 10 % to 90 % of the step as square pixels of the capture show it, source pixels
  Figure rise_frame_px;         ///< the same in pixels of the capture; a sharp edge has 0.8
  std::optional<Figure> mtf50;  ///< cycles per source pixel; nullopt: not below 50 % up to what the capture can carry
  Figure half_percent;  ///< modulation transfer at 0.25 cycles per source pixel (half of what the source carries)
  Figure full_percent;  ///< at 0.5
};
/// Edge spread by projection along the leaning edge, its derivative, Fourier transform; the modulation transfer is that
/// of the samples, without a pixel's own aperture. `picture` is scaling_set; the frame shows all of it, enlarged by 1
/// or more on both axes (broken factors too).
/// errors  invalid_input for another picture, a smaller frame, or if the edges are not where the picture has them
/// source  ISO 12233 (slanted edge, e-SFR; principle, from memory); repeats by whole periods of the lean, correction
///         for the lean: ours
[[nodiscard]] Result<std::vector<EdgeResponse>> measure_edges(const CapturedFrame& frame,
                                                              const signal::TestPicture& picture);

struct AliasShare {
  bool across = true;       ///< waves along the width; otherwise down the height
  double from = 0, to = 0;  ///< band, cycles per source pixel
  Figure percent;           ///< energy of what the source does not have there, of the energy it has
};
/// `picture` is zone_plate with its highest frequency at 90 % or more; the frame shows all of it at any size. Bands:
/// 0.05 to 0.25 and 0.25 to 0.45 cycles per source pixel, both sides of the middle. errors  invalid_input for another
/// picture or parameters, a wave that is not where the picture has it, or a frame too
///         small to be read
/// source  ours (least squares of the wave of known phase; what it leaves is counted)
[[nodiscard]] Result<std::vector<AliasShare>> measure_alias(const CapturedFrame& frame,
                                                            const signal::TestPicture& picture);

}  // namespace provenit::evaluation
