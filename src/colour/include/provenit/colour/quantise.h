#pragma once
// Signals as whole code values, narrow and full range, 8 to 16 bits.
// source  Rec. ITU-R BT.2100-3 (10 and 12 bits; Round(x) = Sign(x) Floor(|x| + 0.5)); 8 and 16 bits by the same
// formula.
//         Full-range chroma and the 12-bit video data range are from memory
#include "provenit/colour/quantities.h"

namespace provenit::colour {

enum class Range { narrow, full };

/// What a component stands for: R', G', B', Y', I run from 0 to 1; Cb, Cr, Ct, Cp from -0.5 to 0.5.
enum class Component { luma, chroma };

struct CodeValue {
  int value = 0;
  int bits = 10;
  Range range = Range::narrow;
  friend constexpr bool operator==(const CodeValue&, const CodeValue&) = default;
};

/// Lowest and highest code that may carry video: narrow range keeps the codes at both ends for timing references
/// (4 to 1019 of 10 bits, 16 to 4079 of 12); full range uses all.
struct CodeLimits {
  int lowest = 0, highest = 0;
};
/// range   bits in [8, 16]
[[nodiscard]] constexpr CodeLimits video_data_range(int bits, Range range) {
  const int step = 1 << (bits - 8);
  if (range == Range::full) return {.lowest = 0, .highest = 256 * step - 1};
  return {.lowest = step, .highest = 255 * step - 1};
}

/// Code of a signal: round half away from zero to the nearest code, clamped to the video data range.
///   narrow  luma (219 E' + 16) 2^(n-8), chroma (224 E' + 128) 2^(n-8)
///   full    luma (2^n - 1) E',          chroma (2^n - 1) E' + 2^(n-1)
/// range   bits in [8, 16]; E' is not NaN (a NaN gives the lowest code: check before)
[[nodiscard]] CodeValue quantise(Signal<> signal, int bits, Range range, Component component = Component::luma);

/// Signal a code stands for; exact to the last digit of a double. Codes outside the video data range decode as the
/// formula has it: narrow 10-bit code 4 is E' = -0.0685, code 1019 is 1.0902.
[[nodiscard]] Signal<> dequantise(CodeValue code, Component component = Component::luma);

}  // namespace provenit::colour
