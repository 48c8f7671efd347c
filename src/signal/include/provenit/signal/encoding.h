#pragma once
// What the names and codes of an encoding stand for, by the documents that define them.
#include "provenit/colour/primaries.h"
#include "provenit/colour/quantities.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// Primaries and white of a container. source: BT.709-6, SMPTE ST 2113 (P3-D65), BT.2020-2.
[[nodiscard]] const colour::Primaries<>& primaries_of(Container container);

/// Non-linear signal E' of one code value of R', G' or B': 0 at black_code, 1 at peak_code (codes.h), below 0 and above
/// 1 outside them. The encoding must be valid. source: BT.2100-3, narrow and full range (see colour/quantise.h).
[[nodiscard]] colour::Signal<> signal_of(const Encoding& encoding, int code);
/// The same of all three.
[[nodiscard]] colour::SignalRgb<> signal_of(const Encoding& encoding, const CodeRgb& code);

}  // namespace provenit::signal
