#pragma once
// BT.709 colours inside a BT.2100 signal, as the line-up bars of BT.2111 carry them.
#include <array>

#include "provenit/colour/quantise.h"
#include "provenit/colour/quantities.h"

namespace provenit::colour {

enum class Bar { white, yellow, cyan, green, magenta, red, blue, black };

enum class BarSystem {
  hlg_scene,  ///< the colour's scene light, scaled to OETF^-1(level)
  pq_display  ///< the colour's display light, scaled to EOTF(level)
};

/// R', G', B' of the bar: BT.709 colour -> BT.2020 linear light -> scaled so that white has signal `level` -> signal.
/// in      level in (0, 1]: 0.75 for HLG, 0.58 for PQ in BT.2111
/// source  Rec. ITU-R BT.2111-2/-3 in outline (its printed table was not opened; codes agree with it from memory),
///         matrix by SMPTE RP 177, curves of BT.2100-3
[[nodiscard]] SignalRgb<> bt709_bar_signal(Bar bar, BarSystem system, double level);
[[nodiscard]] std::array<CodeValue, 3> bt709_bar_codes(Bar bar, BarSystem system, double level, int bits, Range range);

}  // namespace provenit::colour
