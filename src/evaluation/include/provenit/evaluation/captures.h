#pragma once
// Figures from captured frames of test pictures: what a chain leaves of chroma detail and of edges. Pure: pixels in,
// figures out. All are ratios within one frame, in signal (code values), not in light. Methods and limits:
// docs/methods/chroma_capture.md, scaling_capture.md.
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/traces.h"
#include "provenit/signal/test_picture.h"

namespace provenit::evaluation {

/// A captured frame: R', G', B' of each pixel, row by row, on any scale that is linear in the code values.
struct CapturedFrame {
  int width = 0, height = 0;
  std::vector<float> rgb;  ///< 3 x width x height, finite
  [[nodiscard]] const float* at(int x, int y) const {
    return rgb.data() +
           3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x));
  }
};

struct ChromaKept {
  struct Detail {
    int line_pixels = 1;
    bool upright = true;  ///< lines that stand (detail across the width); otherwise lying
    Figure percent;       ///< difference of the lines' chroma over that of the plain fields
  };
  std::vector<Detail> details;
  std::string kept;  ///< "4:4:4", "4:2:2", "4:2:0", "4:4:0" by lines of 1 pixel at half of their chroma
};
/// `picture` is chroma_lines, the frame is of its raster, pixel for pixel.
/// errors  invalid_input for another picture or size, or if the plain fields do not differ where they should (the frame
///         is of something else, or shifted)
/// source  ours
[[nodiscard]] Result<ChromaKept> measure_chroma(const CapturedFrame& frame, const signal::TestPicture& picture);

struct EdgeOvershoot {
  bool across = true;  ///< along the width; otherwise down the height
  Figure percent;      ///< largest of what goes beyond the two levels near the edge, of the step; 0: none
};
/// `picture` is scaling_set; the frame shows all of it, at any size in whole or broken multiples. Levels are read in
/// the middle of the fields. errors  as above source  ours
[[nodiscard]] Result<std::vector<EdgeOvershoot>> measure_overshoot(const CapturedFrame& frame,
                                                                   const signal::TestPicture& picture);

}  // namespace provenit::evaluation
