#pragma once
// Codes for colours and back, on the encoding's reference display: PQ absolute; HLG at the nominal peak with black at 0
// and its system gamma for a 5 cd/m2 surround; BT.1886 at the nominal peak with black at 0. What codes.h does for
// greys.
#include "provenit/colour/quantities.h"
#include "provenit/procedure/procedure.h"
#include "scripted_internal.h"

namespace provenit::procedure {

/// Linear light of the container's primaries that the codes stand for, cd/m2.
[[nodiscard]] colour::AbsoluteRgb<> light_of(const signal::Encoding& encoding, const signal::CodeRgb& code);

/// Codes next to this light of the container's primaries; what lies below black or above the highest code is held
/// there, channel by channel.
[[nodiscard]] signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::AbsoluteRgb<>& light);
/// The same from tristimulus values, cd/m2.
[[nodiscard]] signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::AbsoluteXyz<>& light);

/// Luminance of white at the highest code as far as is known: what was read at step "white", else the expected peak; no
/// more than the encoding can ask for.
[[nodiscard]] double white_cdm2(const Setting& setting);

/// The window of area "window_percent" with a step's key and words.
[[nodiscard]] Patch colour_patch(const Setting& setting, std::string key, const signal::CodeRgb& code,
                                 std::string words);

/// "white" at the highest codes and "black": what targets of HLG and BT.1886, and those that PQ displays clip, depend
/// on.
[[nodiscard]] std::vector<Patch> white_and_black(const Setting& setting);

}  // namespace provenit::procedure
