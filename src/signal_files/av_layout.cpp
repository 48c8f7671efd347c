#include "av_layout.h"

extern "C" {
#include <libavutil/mastering_display_metadata.h>
#include <libavutil/pixdesc.h>
}

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/signal/png16.h"

namespace provenit::signal {
namespace {

/// Steps of ST 2086: 0.00002 in x and y, 0.0001 cd/m2.
constexpr int kChromaticitySteps = 50000, kLuminanceSteps = 10000;

int steps(double value, int per_unit) {
  return static_cast<int>(std::lround(value * per_unit));
}

std::string mastering_text(const MasteringDisplay& m) {
  const auto xy = [](const colour::Xy<>& c) {
    return fmt::format("({},{})", steps(c.x, kChromaticitySteps), steps(c.y, kChromaticitySteps));
  };
  const auto& p = m.primaries;
  return fmt::format("G{}B{}R{}WP{}L({},{})", xy(p.green), xy(p.blue), xy(p.red), xy(p.white),
                     steps(std::round(m.maximum_cdm2), kLuminanceSteps), steps(m.minimum_cdm2, kLuminanceSteps));
}

/// Frames from one key frame to the next at most: two seconds.
int key_interval(const FrameRate& rate) {
  return std::max(1, static_cast<int>(std::lround(2.0 * rate.numerator / rate.denominator)));
}

std::string x265_text(const FrameSource& source, const ClipFormat& format, const std::optional<ClipLight>& light) {
  // No frame refers to a later one, so that frames are stored in the order shown, and none waits for a later one, so
  // that a key frame is there to be repeated. No text about the encoder in the stream.
  std::string text = fmt::format(
      "log-level=none:info=0:bframes=0:rc-lookahead=0:frame-threads=1:open-gop=0:scenecut=0:keyint={}:min-keyint=1",
      key_interval(source.rate));
  // Lossy: the nearest codes rather than a likeness of texture, and chroma as fine as luma.
  text += format.crf ? ":psy-rd=0:psy-rdoq=0:cbqpoffs=-6:crqpoffs=-6" : ":lossless=1";
  if (light)
    text += fmt::format(":master-display={}:max-cll={},{}", mastering_text(light->mastering), light->maxcll_cdm2,
                        light->maxfall_cdm2);
  return text;
}

AVRational rational(double value, int per_unit) {
  return {steps(value, per_unit), per_unit};
}

}  // namespace

const char* encoder_name(ClipCodec codec) {
  return codec == ClipCodec::hevc ? "libx265" : "ffv1";
}

AVPixelFormat pixel_format(ClipCodec codec, ClipChroma chroma, int bits) {
  if (chroma == ClipChroma::rgb && bits == 8) return codec == ClipCodec::ffv1 ? AV_PIX_FMT_BGR0 : AV_PIX_FMT_GBRP;
  const std::string planes = chroma == ClipChroma::rgb ? "gbrp" : fmt::format("yuv{}p", name_of(chroma));
  return av_get_pix_fmt((bits == 8 ? planes : fmt::format("{}{}le", planes, bits)).c_str());
}

void set_common(AVCodecContext& codec, const FrameSource& source, const ClipFormat& format) {
  const auto points = code_points(source.encoding);
  codec.width = source.size.width;
  codec.height = source.size.height;
  codec.pix_fmt = pixel_format(format.codec, format.chroma, source.encoding.bits);
  codec.time_base = {source.rate.denominator, source.rate.numerator};
  codec.framerate = {source.rate.numerator, source.rate.denominator};
  codec.sample_aspect_ratio = {1, 1};
  codec.color_primaries = static_cast<AVColorPrimaries>(points.primaries);
  codec.color_trc = static_cast<AVColorTransferCharacteristic>(points.transfer);
  codec.colorspace = format.chroma == ClipChroma::rgb                                  ? AVCOL_SPC_RGB
                     : clip_matrix(source.encoding) == colour::YcbcrMatrix::bt2020_ncl ? AVCOL_SPC_BT2020_NCL
                                                                                       : AVCOL_SPC_BT709;
  codec.color_range = source.encoding.range == Range::full ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
  if (format.chroma == ClipChroma::c420)
    codec.chroma_sample_location =
        clip_siting(source.encoding) == ClipSiting::top_left ? AVCHROMA_LOC_TOPLEFT : AVCHROMA_LOC_LEFT;
  codec.gop_size = format.codec == ClipCodec::ffv1 ? 1 : key_interval(source.rate);
  codec.max_b_frames = 0;
  if (format.codec == ClipCodec::ffv1) codec.thread_count = 0;  // as many as the machine has; libx265 does by itself
  codec.flags |= AV_CODEC_FLAG_BITEXACT;
}

void set_options(Dictionary& options, const FrameSource& source, const ClipFormat& format,
                 const std::optional<ClipLight>& light) {
  if (format.codec == ClipCodec::ffv1) {
    options.set("level", "3");
    options.set("slices", "4");
    options.set("slicecrc", "1");
    return;
  }
  options.set("preset", "superfast");  // slower ones save a few per cent of such pictures
  options.set("forced-idr", "1");
  if (format.crf) options.set("crf", fmt::format("{:.2f}", *format.crf));
  options.set("x265-params", x265_text(source, format, light));
}

bool set_light(AVStream& stream, const ClipLight& light) {
  auto* const mastering = reinterpret_cast<AVMasteringDisplayMetadata*>(
      av_stream_new_side_data(&stream, AV_PKT_DATA_MASTERING_DISPLAY_METADATA, sizeof(AVMasteringDisplayMetadata)));
  auto* const content = reinterpret_cast<AVContentLightMetadata*>(
      av_stream_new_side_data(&stream, AV_PKT_DATA_CONTENT_LIGHT_LEVEL, sizeof(AVContentLightMetadata)));
  if (mastering == nullptr || content == nullptr) return false;
  *mastering = {};
  const auto& p = light.mastering.primaries;
  const std::array<colour::Xy<>, 3> primaries{p.red, p.green, p.blue};
  for (std::size_t i = 0; i < 3; ++i) {
    mastering->display_primaries[i][0] = rational(primaries[i].x, kChromaticitySteps);
    mastering->display_primaries[i][1] = rational(primaries[i].y, kChromaticitySteps);
  }
  mastering->white_point[0] = rational(p.white.x, kChromaticitySteps);
  mastering->white_point[1] = rational(p.white.y, kChromaticitySteps);
  mastering->max_luminance = rational(std::round(light.mastering.maximum_cdm2), kLuminanceSteps);
  mastering->min_luminance = rational(light.mastering.minimum_cdm2, kLuminanceSteps);
  mastering->has_primaries = mastering->has_luminance = 1;
  *content = {};
  content->MaxCLL = static_cast<unsigned>(light.maxcll_cdm2);
  content->MaxFALL = static_cast<unsigned>(light.maxfall_cdm2);
  return true;
}

void fill_frame(AVFrame& frame, const ClipPlanes& planes, ClipChroma chroma, int bits) {
  constexpr std::array<std::size_t, 3> kPlaneOfRgb{2, 0, 1};  // libav's order is G, B, R
  for (std::size_t i = 0; i < 3; ++i) {
    const auto& plane = planes.plane[i];
    const bool packed = frame.format == AV_PIX_FMT_BGR0;
    const std::size_t at = packed ? 0 : chroma == ClipChroma::rgb ? kPlaneOfRgb[i] : i;
    for (int y = 0; y < plane.height; ++y) {
      const auto* const in = plane.row(y);
      auto* const out = frame.data[at] + static_cast<std::ptrdiff_t>(y) * frame.linesize[at];
      if (packed)
        for (int x = 0; x < plane.width; ++x) out[4 * x + 2 - static_cast<int>(i)] = static_cast<std::uint8_t>(in[x]);
      else if (bits == 8)
        std::transform(in, in + plane.width, out, [](std::uint16_t code) { return static_cast<std::uint8_t>(code); });
      else
        std::copy_n(in, plane.width, reinterpret_cast<std::uint16_t*>(out));
    }
  }
}

}  // namespace provenit::signal
