#pragma once
// What a display's processing makes of a signal before the panel: scaling, chroma carried at less resolution, fewer
// bits, a clip around its peak. Frames of codes in, frames of codes out (not rounded unless said).
#include "provenit/signal/signal.h"
#include "provenit/simulated/capture.h"

namespace provenit::simulated {

/// Where light is held, and how.
struct Clip {
  double peak_cdm2 = 1000;
  double roll_off_start = 1;  ///< share s of the peak: from there to 2 - s of it light bends to the peak; 1: hard
  bool keeps_hue = false;     ///< all channels by the factor of the largest; otherwise each by itself
};
/// Light in, light left, in cd/m2 of one channel (or of the largest).
[[nodiscard]] double held(const Clip& clip, double cdm2);

/// The frame's codes as light of the encoding's reference display, held, and back to codes (not rounded).
/// in  PQ or BT.1886; of HLG each channel counts as a grey
[[nodiscard]] Frame clipped(Frame frame, const signal::Encoding& encoding, const Clip& clip);
/// Codes that `bits` bits have, nearest, in the frame's own encoding. in  8 <= bits <= encoding.bits
[[nodiscard]] Frame requantised(Frame frame, const signal::Encoding& encoding, int bits);

}  // namespace provenit::simulated
