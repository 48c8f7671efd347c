#pragma once
// The choices of a clip in libav's terms.
#include "av_clip.h"
#include "provenit/libav/handles.h"

namespace provenit::signal {

using libav::Dictionary;

[[nodiscard]] const char* encoder_name(ClipCodec codec);
/// AV_PIX_FMT_NONE where libav has none for it.
[[nodiscard]] AVPixelFormat pixel_format(ClipCodec codec, ClipChroma chroma, int bits);
/// Size, rate, colour: what every encoder is told the same way.
void set_common(AVCodecContext& codec, const FrameSource& source, const ClipFormat& format);
/// What the encoder is told in its own words.
void set_options(Dictionary& options, const FrameSource& source, const ClipFormat& format,
                 const std::optional<ClipLight>& light);
/// Mastering display and content light for the container. False if memory runs out.
[[nodiscard]] bool set_light(AVStream& stream, const ClipLight& light);
/// Copies planes into a frame of the format. The frame's buffers must be writable.
void fill_frame(AVFrame& frame, const ClipPlanes& planes, ClipChroma chroma, int bits);

}  // namespace provenit::signal
