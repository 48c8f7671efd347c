#pragma once
// The stills that OpenImageIO writes. The source is valid, the frame is there, the bits are enough.
#include <string>

#include "provenit/signal_files/frame_source.h"

namespace provenit::signal {

[[nodiscard]] Result<void> write_tiff(const FrameSource& source, int frame, const std::string& path);
[[nodiscard]] Result<void> write_exr(const FrameSource& source, int frame, const std::string& path);
/// bits: 10 or 12, at least the encoding's.
[[nodiscard]] Result<void> write_dpx(const FrameSource& source, int frame, const std::string& path, int bits);

}  // namespace provenit::signal
