#pragma once
// Content light level of decoded frames: MaxCLL and MaxFALL.
#include <span>
#include <vector>

#include "provenit/colour/quantities.h"

namespace provenit::colour {

struct ContentLightLevel {
  double maxcll_cdm2 = 0;   ///< largest max(R, G, B) of any pixel of any frame
  double maxfall_cdm2 = 0;  ///< largest frame mean of max(R, G, B)
  /// As the 16-bit fields of the metadata hold them: whole cd/m2, half up, at most 65535. 0 there means "unknown".
  [[nodiscard]] int maxcll_field() const;
  [[nodiscard]] int maxfall_field() const;
};

/// The definition, for frames small enough to hold decoded (the survey of a programme has its own, streaming, form).
/// in      each frame's pixels as linear light in cd/m2; negative light counts as 0; every pixel given counts, so leave
///         out letterbox bars yourself
/// out     zeros for no frame; a frame without pixels is passed over
/// source  CTA-861.3-A (2016) Annex A: mean of max(R, G, B), not of luminance
[[nodiscard]] ContentLightLevel content_light_level(std::span<const std::vector<AbsoluteRgb<>>> frames);

}  // namespace provenit::colour
