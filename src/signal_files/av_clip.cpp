#include "av_clip.h"

#include <fmt/format.h>

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
  PacketPtr first{av_packet_alloc()};  ///< the packet of `shown`
  std::int64_t next = 0;               ///< time stamp of the coming video frame
  std::int64_t shown = -1;             ///< that of the first with the present picture

  [[nodiscard]] tl::unexpected<Error> refused(int code) const { return file.refuse(text_of_av_error(code)); }
  [[nodiscard]] static tl::unexpected<Error> encoder_refused(const std::string& what) {
    return fail(ErrorCode::unsupported, "the encoder refuses the clip: " + what,
                "Try another size or chroma, or FFV1 in .mkv.");
  }

  Result<void> open_encoder(const FrameSource& source, const ClipFormat& format,
                            const std::optional<ClipLight>& light) {
    const auto* const encoder = encoder_of(source.encoding, format);
    codec.reset(encoder != nullptr ? avcodec_alloc_context3(encoder) : nullptr);
    if (!codec || !frame || !packet || !first) return encoder_refused("out of memory");
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

  Result<void> encode(const AVFrame* picture) {
    if (const int code = avcodec_send_frame(codec.get(), picture); code < 0)
      return encoder_refused(text_of_av_error(code));
    for (;;) {
      const int code = avcodec_receive_packet(codec.get(), packet.get());
      if (code == AVERROR(EAGAIN) || code == AVERROR_EOF) return {};
      if (code < 0) return encoder_refused(text_of_av_error(code));
      if (packet->pts == shown) {
        av_packet_unref(first.get());
        if (av_packet_ref(first.get(), packet.get()) < 0) return encoder_refused("out of memory");
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

  /// Whether the packet of the present picture can stand for one more frame of it: FFV1 of key frames alone.
  [[nodiscard]] bool can_repeat() const {
    return codec->codec_id == AV_CODEC_ID_FFV1 && next > shown && first->data != nullptr && first->pts == shown;
  }
  Result<void> repeat() {
    if (av_packet_ref(packet.get(), first.get()) < 0) return encoder_refused("out of memory");
    packet->pts = packet->dts = next++;
    return write();
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

Result<void> AvClip::show(const ClipPlanes& planes) {
  if (av_frame_make_writable(impl_->frame.get()) < 0) return Impl::encoder_refused("out of memory");
  fill_frame(*impl_->frame, planes, impl_->chroma, impl_->bits);
  impl_->shown = impl_->next;
  return {};
}

Result<void> AvClip::add_frame(bool key) {
  if (impl_->can_repeat()) return impl_->repeat();
  auto& frame = *impl_->frame;
  frame.pts = impl_->next++;
  frame.pict_type = key ? AV_PICTURE_TYPE_I : AV_PICTURE_TYPE_NONE;
  return impl_->encode(&frame);
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
