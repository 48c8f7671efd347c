#pragma once
// One frame as a still picture file. docs/signal-files.md says what a reader gets from each.
#include <optional>
#include <string>
#include <string_view>

#include "provenit/base/error.h"
#include "provenit/signal_files/frame_source.h"

namespace provenit::signal {

/// png16, tiff16, dpx10, dpx12 hold the code values, each in the upper bits of its sample as png_sample has it: at
/// narrow range shifted left, at full range with its upper bits repeated below. exr32 holds light.
enum class StillFormat {
  png16,
  tiff16,
  dpx10,  ///< encodings of 8 and 10 bits
  dpx12,  ///< encodings of 8, 10 and 12 bits
  exr32   ///< linear light in cd/m2 as 32-bit floats: 1.0 is 1 cd/m2, the container's primaries
};

[[nodiscard]] const char* name_of(StillFormat format);  ///< "png16", "tiff16", "dpx10", "dpx12", "exr32"
/// By the ending of a file's name: .png, .tif, .tiff, .dpx (10 bits if that holds the encoding, else 12), .exr, in
/// upper or lower case; nullopt for any other.
[[nodiscard]] std::optional<StillFormat> still_format_of(std::string_view path, const Encoding& encoding);

/// Writes one frame, whole or not at all; a file of that name is replaced.
/// exact   every sample holds its code; exr32: the float nearest to the light in double precision. Light is that of the
///         encoding's reference display with black at 0 (nominal peak for HLG and BT.1886): codes of signals below 0
///         have none, and so does not a PQ signal above 1 have more than 10 000 cd/m2
/// errors  those of validate and checked_row; out_of_range for a frame that is not there or an encoding of more bits
/// than
///         the format has; io with the path
[[nodiscard]] Result<void> write_still(const FrameSource& source, int frame, const std::string& path,
                                       StillFormat format);

}  // namespace provenit::signal
