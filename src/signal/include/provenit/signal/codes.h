#pragma once
// Code values for light: which R'G'B' codes to send for a wanted grey. The reverse, what light a code stands for on the
// display as measured, is evaluation's.
#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// R' = G' = B' code whose non-linear signal lies nearest to the one the encoding's reference display needs for this
/// luminance: PQ absolute; HLG at the nominal peak with black at 0 and its system gamma for a 5 cd/m2 surround; BT.1886
/// at the nominal peak with black at 0.
/// in      luminance: cd/m2. Below 0 counts as 0; above what the encoding's code of 100 % stands for counts as that.
///         (Codes above 100 % are never returned.)
/// errors  out_of_range for NaN and for an encoding that validate() refuses
/// exact   the code's own luminance differs from the wanted one by up to half a code step (PQ 10-bit narrow: 0.5 % at
///         1000 cd/m2, 5 % at 0.01 cd/m2): targets are those of the code, never the wanted level
/// source  Rec. ITU-R BT.2100-3 (PQ inverse EOTF; HLG inverse OOTF, OETF), Rec. ITU-R BT.1886; quantising BT.2100-3
///         table 9 (table number from memory)
[[nodiscard]] Result<CodeRgb> grey_code(const Encoding& encoding, colour::Luminance<> luminance);

/// Non-linear signal E' = 0: 64 at 10-bit narrow, 0 at full range. The encoding must be valid.
[[nodiscard]] CodeRgb black_code(const Encoding& encoding);

/// Non-linear signal E' = 1: 940 at 10-bit narrow, 1023 at 10-bit full. PQ: 10000 cd/m2, whatever the display can do;
/// HLG and BT.1886: the nominal peak. The encoding must be valid.
[[nodiscard]] CodeRgb peak_code(const Encoding& encoding);

/// The R' = G' = B' code of a non-linear signal E', rounded to the nearest code and held inside the codes that exist.
/// in      signal: E', 0 = black, 1 = 100 %; below 0 and above 1 are allowed as far as the range has codes for them
[[nodiscard]] CodeRgb grey_code(const Encoding& encoding, colour::Signal<> signal);

/// The nearest R'G'B' codes of non-linear signals, each held to [0, 1]; NaN counts as 0. The encoding must be valid.
[[nodiscard]] CodeRgb nearest_code(const Encoding& encoding, const colour::SignalRgb<>& signal);

}  // namespace provenit::signal
