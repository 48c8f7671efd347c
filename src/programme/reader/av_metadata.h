#pragma once
// Static metadata, colour fields and remarks that libav hands on from a stream or a frame.
#include "provenit/libav/handles.h"
#include "reader/colour_fields.h"

namespace provenit::programme {

/// What the decoded frame says, which is what its bitstream says if the decoder was opened with empty colour fields.
[[nodiscard]] ColourFields fields_of(const AVFrame& frame);
/// What the container says: codec parameters as its demuxer filled them before any decoding.
[[nodiscard]] ColourFields fields_of(const AVCodecParameters& parameters);

/// Mastering display and content light of the frame, else those of the stream; a contradiction is noted.
[[nodiscard]] StaticMetadata metadata_of(const AVFrame& frame, const AVStream& stream, std::vector<std::string>& notes);

/// Dynamic metadata, interlacing, alpha, rotation: things that are there and not used.
void note_extras(const AVFrame& frame, const AVStream& stream, std::vector<std::string>& notes);

/// What the codec's own document settles where its stream is silent: siting of H.264, H.265, MPEG-2 and AV1, of 4:2:2;
/// range of those and of ProRes.
void add_codec_rules(AVCodecID codec, SampleLayout& layout);

}  // namespace provenit::programme
