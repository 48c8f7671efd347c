#include "reader/av_metadata.h"

extern "C" {
#include <libavutil/mastering_display_metadata.h>
#include <libavutil/pixdesc.h>
}

#include <algorithm>

namespace provenit::programme {
namespace {

std::optional<colour::Range> range_of(AVColorRange range) {
  if (range == AVCOL_RANGE_MPEG) return colour::Range::narrow;
  if (range == AVCOL_RANGE_JPEG) return colour::Range::full;
  return std::nullopt;
}

std::optional<int> siting_of(AVChromaLocation location) {
  if (location == AVCHROMA_LOC_UNSPECIFIED) return std::nullopt;
  return static_cast<int>(location) - 1;  // H.273 types 0 to 5 in the same order
}

// 0 is reserved in all three of H.273's tables but for the matrix, where libav means RGB by it and the pixel format
// has told so already.
int specified(int code) {
  return code == 0 ? 2 : code;
}

double number(AVRational r) {
  return r.den == 0 ? 0 : av_q2d(r);
}

StaticMetadata::Mastering mastering_of(const AVMasteringDisplayMetadata& m) {
  StaticMetadata::Mastering out;
  if (m.has_primaries != 0) {
    for (std::size_t c = 0; c < 3; ++c)
      for (std::size_t i = 0; i < 2; ++i) out.primaries_xy[c][i] = number(m.display_primaries[c][i]);
    for (std::size_t i = 0; i < 2; ++i) out.white_xy[i] = number(m.white_point[i]);
  }
  if (m.has_luminance != 0) {
    out.maximum_cdm2 = number(m.max_luminance);
    out.minimum_cdm2 = number(m.min_luminance);
  }
  return out;
}

void set_light(StaticMetadata& metadata, const AVContentLightMetadata& light) {
  metadata.maxcll_cdm2 = static_cast<int>(std::min(light.MaxCLL, 65535U));
  metadata.maxfall_cdm2 = static_cast<int>(std::min(light.MaxFALL, 65535U));
}

template <class T, class Bytes>
const T* as(const Bytes* bytes, std::size_t size) {
  return bytes != nullptr && size >= sizeof(T) ? reinterpret_cast<const T*>(bytes) : nullptr;
}

StaticMetadata of_frame(const AVFrame& frame) {
  StaticMetadata out;
  if (const AVFrameSideData* s = av_frame_get_side_data(&frame, AV_FRAME_DATA_MASTERING_DISPLAY_METADATA))
    if (const auto* m = as<AVMasteringDisplayMetadata>(s->data, s->size)) out.mastering = mastering_of(*m);
  if (const AVFrameSideData* s = av_frame_get_side_data(&frame, AV_FRAME_DATA_CONTENT_LIGHT_LEVEL))
    if (const auto* l = as<AVContentLightMetadata>(s->data, s->size)) set_light(out, *l);
  return out;
}

StaticMetadata of_stream(const AVStream& stream) {
  StaticMetadata out;
  std::size_t size = 0;
  const std::uint8_t* data = av_stream_get_side_data(&stream, AV_PKT_DATA_MASTERING_DISPLAY_METADATA, &size);
  if (const auto* m = as<AVMasteringDisplayMetadata>(data, size)) out.mastering = mastering_of(*m);
  size = 0;
  data = av_stream_get_side_data(&stream, AV_PKT_DATA_CONTENT_LIGHT_LEVEL, &size);
  if (const auto* l = as<AVContentLightMetadata>(data, size)) set_light(out, *l);
  return out;
}

bool is_empty(const StaticMetadata& m) {
  return !m.mastering && !m.maxcll_cdm2 && !m.maxfall_cdm2;
}

const char* place_in_frame(AVCodecID codec) {
  switch (codec) {
    case AV_CODEC_ID_HEVC:
    case AV_CODEC_ID_H264:
      return "SEI of frame 0";
    case AV_CODEC_ID_AV1:
      return "metadata OBU of frame 0";
    default:
      return "frame 0";
  }
}

}  // namespace

ColourFields fields_of(const AVFrame& frame) {
  return {.where = "the bitstream",
          .transfer = specified(frame.color_trc),
          .primaries = specified(frame.color_primaries),
          .matrix = specified(frame.colorspace),
          .range = range_of(frame.color_range),
          .siting = siting_of(frame.chroma_location)};
}

ColourFields fields_of(const AVCodecParameters& parameters) {
  return {.where = "the container",
          .transfer = specified(parameters.color_trc),
          .primaries = specified(parameters.color_primaries),
          .matrix = specified(parameters.color_space),
          .range = range_of(parameters.color_range),
          .siting = siting_of(parameters.chroma_location)};
}

StaticMetadata metadata_of(const AVFrame& frame, const AVStream& stream, std::vector<std::string>& notes) {
  StaticMetadata inner = of_frame(frame), outer = of_stream(stream);
  if (is_empty(inner)) {
    if (!is_empty(outer)) outer.where = "container";
    return outer;
  }
  if (!is_empty(outer) && inner != outer)
    notes.push_back("static metadata of the bitstream and of the container differ; the bitstream's counts");
  inner.where = place_in_frame(stream.codecpar->codec_id);
  return inner;
}

void note_extras(const AVFrame& frame, const AVStream& stream, std::vector<std::string>& notes) {
  if (av_frame_get_side_data(&frame, AV_FRAME_DATA_DYNAMIC_HDR_PLUS) != nullptr)
    notes.push_back("dynamic metadata (ST 2094-40) in the frames; it does not change what is measured");
  if (frame.interlaced_frame != 0) notes.push_back("interlaced: both fields are measured together, as one frame");
  const AVPixFmtDescriptor* const d = av_pix_fmt_desc_get(static_cast<AVPixelFormat>(frame.format));
  if (d != nullptr && (d->flags & AV_PIX_FMT_FLAG_ALPHA) != 0) notes.push_back("alpha is not used");
  if (av_stream_get_side_data(&stream, AV_PKT_DATA_DISPLAYMATRIX, nullptr) != nullptr)
    notes.push_back("the container asks for the picture to be turned or mirrored: it is measured as coded");
}

void add_codec_rules(AVCodecID codec, SampleLayout& layout) {
  const auto siting = [&layout](Siting value, const char* reason) {
    layout.silent_siting = value;
    layout.silent_siting_reason = reason;
  };
  if (layout.chroma == Chroma::c422) {
    siting(Siting::left, "4:2:2 is co-sited horizontally (BT.709, BT.2020, H.264, H.265)");
  } else if (layout.chroma == Chroma::c420) {
    switch (codec) {
      case AV_CODEC_ID_H264:
      case AV_CODEC_ID_HEVC:
        siting(Siting::left, "type 0, which H.264 and H.265 infer where the stream does not say");
        break;
      case AV_CODEC_ID_MPEG2VIDEO:
        siting(Siting::left, "the only one of MPEG-2 (H.262 6.1.1.8)");
        break;
      case AV_CODEC_ID_AV1:
        siting(Siting::left,
               "the stream says CSP_UNKNOWN; AV1's default position (vertical) is taken. Give --siting if "
               "the maker says otherwise");
        break;
      default:
        break;
    }
  }
  if (codec == AV_CODEC_ID_H264 || codec == AV_CODEC_ID_HEVC || codec == AV_CODEC_ID_MPEG2VIDEO) {
    layout.silent_range = colour::Range::narrow;
    layout.silent_range_reason = "what H.262, H.264 and H.265 mean where the stream does not say";
  }
  if (codec == AV_CODEC_ID_PRORES && layout.chroma != Chroma::rgb) {
    layout.silent_range = colour::Range::narrow;
    layout.silent_range_reason = "the only one of ProRes Y'CbCr (SMPTE RDD 36)";
  }
}

}  // namespace provenit::programme
