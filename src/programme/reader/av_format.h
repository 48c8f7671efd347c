#pragma once
// Libav's pixel formats as planes.
#include "provenit/base/error.h"
#include "provenit/libav/handles.h"
#include "reader/colour_fields.h"

namespace provenit::programme {

using libav::FramePtr;

/// Layout of the frames of a pixel format; silent_* are left empty. Errors: unsupported, with the name of the format.
[[nodiscard]] Result<SampleLayout> layout_of(const std::string& path, const AVFrame& frame);

/// The frame as a picture of this format. Planar samples are used where they are, the picture owning the frame; others
/// (semi-planar, packed, foreign byte order) are sorted into planes of its own.
[[nodiscard]] Picture picture_of(FramePtr frame, const PictureFormat& format);

}  // namespace provenit::programme
