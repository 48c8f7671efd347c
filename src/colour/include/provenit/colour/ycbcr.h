#pragma once
// Y'CbCr with non-constant luminance.
// source  Rec. ITU-R BT.601-7; Rec. ITU-R BT.709-6; Rec. ITU-R BT.2020-2 and BT.2100-3 (NCL)
#include "provenit/colour/quantise.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"

namespace provenit::colour {

enum class YcbcrMatrix { bt709, bt2020_ncl, bt601 };

/// Shares of R' and B' in Y'; that of G' is the rest.
struct LumaShares {
  double red, blue;
};
[[nodiscard]] constexpr LumaShares luma_shares(YcbcrMatrix matrix) {
  if (matrix == YcbcrMatrix::bt601) return {.red = 0.299, .blue = 0.114};
  if (matrix == YcbcrMatrix::bt709) return {.red = 0.2126, .blue = 0.0722};
  return {.red = 0.2627, .blue = 0.0593};
}

/// Y' = Kr R' + Kg G' + Kb B'; Cb = (B' - Y') / (2 - 2 Kb); Cr = (R' - Y') / (2 - 2 Kr). Linear, nothing is clipped.
template <class T>
[[nodiscard]] SignalYcbcr<T> ycbcr_from_rgb(const SignalRgb<T>& s, YcbcrMatrix matrix) {
  const LumaShares k = luma_shares(matrix);
  const T y = k.red * s.r + (1 - k.red - k.blue) * s.g + k.blue * s.b;
  return {.y = y, .cb = (s.b - y) / (2 - 2 * k.blue), .cr = (s.r - y) / (2 - 2 * k.red)};
}
template <class T>
[[nodiscard]] SignalRgb<T> rgb_from_ycbcr(const SignalYcbcr<T>& s, YcbcrMatrix matrix) {
  const LumaShares k = luma_shares(matrix);
  const T r = s.y + (2 - 2 * k.red) * s.cr, b = s.y + (2 - 2 * k.blue) * s.cb;
  return {.r = r, .g = (s.y - k.red * r - k.blue * b) / (1 - k.red - k.blue), .b = b};
}

/// The same in code values: each of Y', Cb, Cr is rounded once, from exact signals.
struct YcbcrCodes {
  CodeValue y, cb, cr;
  friend constexpr bool operator==(const YcbcrCodes&, const YcbcrCodes&) = default;
};
[[nodiscard]] YcbcrCodes quantise(const SignalYcbcr<>& s, int bits, Range range);
[[nodiscard]] SignalYcbcr<> dequantise(const YcbcrCodes& codes);

}  // namespace provenit::colour
