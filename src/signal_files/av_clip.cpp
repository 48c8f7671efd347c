#include "av_clip.h"

#include <fmt/format.h>

#include <map>

#include "av_layout.h"
#include "provenit/libav/handles.h"

#ifdef __SANITIZE_ADDRESS__
/// libx265 3.5 loses its copies of the parameters' text at every close. That is not to hide losses of our own.
extern "C" const char* __lsan_default_suppressions() {
  return "leak:libx265.so\n";
}
#endif

namespace provenit::signal {

using libav::CodecPtr;
using libav::FramePtr;
using libav::OutputPtr;
using libav::PacketPtr;
using libav::text_of_av_error;
namespace {

/// Up to this rate a held picture of HEVC is its key frame over and over, which spares encoding it for every frame.
constexpr double kRepeatedBitsPerSecond = 20e6;

/// A layout for people: "4:2:0 10-bit".
std::string text_of(const Encoding& encoding, ClipChroma chroma) {
  const std::string name = name_of(chroma);
  const auto layout =
      chroma == ClipChroma::rgb ? std::string("R'G'B'") : fmt::format("{}:{}:{}", name[0], name[1], name[2]);
  return fmt::format("{} {}-bit", layout, encoding.bits);
}

const AVCodec* encoder_of(const Encoding& encoding, const ClipFormat& format) {
  const auto* const encoder = avcodec_find_encoder_by_name(encoder_name(format.codec));
  if (encoder == nullptr || encoder->pix_fmts == nullptr) return nullptr;
  const auto wanted = pixel_format(format.codec, format.chroma, encoding.bits);
  for (const auto* have = encoder->pix_fmts; *have != AV_PIX_FMT_NONE; ++have)
    if (*have == wanted) return encoder;
  return nullptr;
}

}  // namespace

Result<void> check_encoder(const Encoding& encoding, const ClipFormat& format) {
  const auto* const name = encoder_name(format.codec);
  if (avcodec_find_encoder_by_name(name) == nullptr)
    return fail(ErrorCode::unsupported, fmt::format("libavcodec on this machine has no encoder '{}'", name),
                format.codec == ClipCodec::hevc ? "Write FFV1 in .mkv, or use a libavcodec built with libx265." : "");
  if (encoder_of(encoding, format) == nullptr)
    return fail(
        ErrorCode::unsupported,
        fmt::format("the encoder '{}' on this machine does not take {}", name, text_of(encoding, format.chroma)),
        format.codec == ClipCodec::hevc ? "Write FFV1 in .mkv, or take fewer bits or other chroma."
                                        : "Take other bits or other chroma.",
        {.field = "chroma"});
  return {};
}

struct AvClip::Impl {
  const PartFile& file;
  ClipChroma chroma;
  int bits;
  CodecPtr codec;
  OutputPtr output;
  AVStream* stream = nullptr;
  FramePtr frame{av_frame_alloc()};
  PacketPtr packet{av_packet_alloc()};
  std::map<int, PacketPtr> kept;  ///< key frames by picture
  std::int64_t next = 0;          ///< time stamp of the coming video frame
  int picture = -1;               ///< the present one
  std::int64_t first = -1;        ///< time stamp of the first frame with its planes
  int encoded = -1;               ///< the picture that the encoder had last

  [[nodiscard]] tl::unexpected<Error> refused(int code) const { return file.refuse(text_of_av_error(code)); }
  [[nodiscard]] static tl::unexpected<Error> encoder_refused(const std::string& what) {
    return fail(ErrorCode::unsupported, "the encoder refuses the clip: " + what,
                "Try another size or chroma, or FFV1 in .mkv.");
  }

  Result<void> open_encoder(const FrameSource& source, const ClipFormat& format,
                            const std::optional<ClipLight>& light) {
    const auto* const encoder = encoder_of(source.encoding, format);
    codec.reset(encoder != nullptr ? avcodec_alloc_context3(encoder) : nullptr);
    if (!codec || !frame || !packet) return encoder_refused("out of memory");
    codec->log_level_offset = 100;  // above every level: a library prints nothing
    set_common(*codec, source, format);
    if ((output->oformat->flags & AVFMT_GLOBALHEADER) != 0) codec->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    Dictionary options;
    set_options(options, source, format, light);
    if (const int code = avcodec_open2(codec.get(), encoder, options.address()); code < 0)
      return encoder_refused(text_of_av_error(code));
    if (const auto unknown = options.left_over(); !unknown.empty())
      return encoder_refused("it has no option '" + unknown + "'");
    frame->format = codec->pix_fmt;
    frame->width = codec->width;
    frame->height = codec->height;
    if (const int code = av_frame_get_buffer(frame.get(), 0); code < 0) return encoder_refused(text_of_av_error(code));
    return {};
  }

  Result<void> open_file(const std::string& container, const std::optional<ClipLight>& light) {
    stream = avformat_new_stream(output.get(), nullptr);
    if (stream == nullptr || avcodec_parameters_from_context(stream->codecpar, codec.get()) < 0 ||
        (light && !set_light(*stream, *light)))
      return encoder_refused("out of memory");
    stream->time_base = codec->time_base;
    stream->avg_frame_rate = stream->r_frame_rate = codec->framerate;
    stream->sample_aspect_ratio = codec->sample_aspect_ratio;
    // "hvc1": parameter sets in the sample entry, which more players take than "hev1".
    if (codec->codec_id == AV_CODEC_ID_HEVC && container != "matroska")
      stream->codecpar->codec_tag = MKTAG('h', 'v', 'c', '1');
    output->flags |= AVFMT_FLAG_BITEXACT;
    if (const int code = avio_open(&output->pb, file.part().c_str(), AVIO_FLAG_WRITE); code < 0) return refused(code);
    if (const int code = avformat_write_header(output.get(), nullptr); code < 0) return refused(code);
    return {};
  }

  Result<void> encode(const AVFrame* next_frame) {
    if (const int code = avcodec_send_frame(codec.get(), next_frame); code < 0)
      return encoder_refused(text_of_av_error(code));
    for (;;) {
      const int code = avcodec_receive_packet(codec.get(), packet.get());
      if (code == AVERROR(EAGAIN) || code == AVERROR_EOF) return {};
      if (code < 0) return encoder_refused(text_of_av_error(code));
      if (packet->pts == first && can_stand_for_others(*packet)) {
        PacketPtr copy(av_packet_clone(packet.get()));
        if (!copy) return encoder_refused("out of memory");
        kept[picture] = std::move(copy);
      }
      if (auto ok = write(); !ok) return ok;
    }
  }

  /// The packet, into the file.
  Result<void> write() {
    packet->stream_index = stream->index;
    packet->duration = 1;
    av_packet_rescale_ts(packet.get(), codec->time_base, stream->time_base);
    if (const int code = av_interleaved_write_frame(output.get(), packet.get()); code < 0) return refused(code);
    if (output->pb->error < 0) return refused(output->pb->error);
    return {};
  }

  /// Whether the packet can stand for further frames of its picture: a key frame, which refers to nothing and, in HEVC,
  /// begins the order of the frames anew (IDR). A large one would need more than players take in.
  [[nodiscard]] bool can_stand_for_others(const AVPacket& p) const {
    if ((p.flags & AV_PKT_FLAG_KEY) == 0) return false;
    return codec->codec_id == AV_CODEC_ID_FFV1 || is_small(p);
  }
  [[nodiscard]] bool is_small(const AVPacket& p) const {
    return 8.0 * p.size * av_q2d(codec->framerate) < kRepeatedBitsPerSecond;
  }
  Result<void> repeat(const AVPacket& p) {
    if (av_packet_ref(packet.get(), &p) < 0) return encoder_refused("out of memory");
    packet->pts = packet->dts = next++;
    return write();
  }
  void turn_to(int to) {
    // Large ones (FFV1) are kept for the present picture only.
    if (const auto last = kept.find(picture); to != picture && last != kept.end() && !is_small(*last->second))
      kept.erase(last);
    picture = to;
  }
};

AvClip::AvClip(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
AvClip::AvClip(AvClip&&) noexcept = default;
AvClip& AvClip::operator=(AvClip&&) noexcept = default;
AvClip::~AvClip() = default;

Result<AvClip> AvClip::open(const FrameSource& source, const ClipFormat& format, const std::optional<ClipLight>& light,
                            const std::string& container, const PartFile& file) {
  AVFormatContext* output = nullptr;
  if (avformat_alloc_output_context2(&output, nullptr, container.c_str(), file.part().c_str()) < 0)
    return fail(ErrorCode::unsupported, "libavformat on this machine writes no " + container,
                "Take another container.");
  auto impl = std::make_unique<Impl>(Impl{
      .file = file, .chroma = format.chroma, .bits = source.encoding.bits, .codec = {}, .output = OutputPtr(output)});
  if (auto ok = impl->open_encoder(source, format, light); !ok) return tl::unexpected(ok.error());
  if (auto ok = impl->open_file(container, light); !ok) return tl::unexpected(ok.error());
  return AvClip(std::move(impl));
}

bool AvClip::knows(int picture) const {
  return impl_->kept.contains(picture);
}

void AvClip::show(int picture) {
  impl_->turn_to(picture);
}

Result<void> AvClip::show(int picture, const ClipPlanes& planes) {
  impl_->turn_to(picture);
  impl_->first = impl_->next;
  if (av_frame_make_writable(impl_->frame.get()) < 0) return Impl::encoder_refused("out of memory");
  fill_frame(*impl_->frame, planes, impl_->chroma, impl_->bits);
  return {};
}

Result<void> AvClip::add_frame(bool key) {
  auto& impl = *impl_;
  if (const auto known = impl.kept.find(impl.picture); known != impl.kept.end()) {
    if (impl.encoded != impl.picture)
      impl.encoded = -1;  // what lies in the file is not what the encoder would refer to
    return impl.repeat(*known->second);
  }
  auto& frame = *impl.frame;
  frame.pts = impl.next++;
  frame.pict_type = key || impl.encoded < 0 ? AV_PICTURE_TYPE_I : AV_PICTURE_TYPE_NONE;
  impl.encoded = impl.picture;
  return impl.encode(&frame);
}

Result<void> AvClip::finish() {
  if (auto ok = impl_->encode(nullptr); !ok) return ok;
  auto& output = *impl_->output;
  if (const int code = av_write_trailer(&output); code < 0) return impl_->refused(code);
  const int error = output.pb->error;
  const int closed = avio_closep(&output.pb);
  if (error < 0 || closed < 0) return impl_->refused(error < 0 ? error : closed);
  return {};
}

}  // namespace provenit::signal
