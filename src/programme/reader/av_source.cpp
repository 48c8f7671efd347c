#include "reader/av_source.h"

extern "C" {
#include <libavutil/cpu.h>
}

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <string_view>
#include <thread>

#include "reader/ts_tail.h"

namespace provenit::programme {
namespace {

constexpr int kMostFailures = 100000;       // of a decoder, between two pictures
constexpr std::int64_t kRemembered = 4096;  // packets; far more than any decoder holds back

int ask_interrupt(void* self) {
  const auto& interrupt = *static_cast<std::function<bool()>*>(self);
  return interrupt && interrupt() ? 1 : 0;
}

ErrorCode code_of(int av_error) {
  if (av_error == AVERROR(ENOENT)) return ErrorCode::not_found;
  if (av_error == AVERROR(EACCES) || av_error == AVERROR(EIO) || av_error == AVERROR(EISDIR)) return ErrorCode::io;
  if (av_error == AVERROR_EXIT || av_error == AVERROR(ETIMEDOUT)) return ErrorCode::timeout;
  if (av_error == AVERROR_DEMUXER_NOT_FOUND || av_error == AVERROR_PROTOCOL_NOT_FOUND) return ErrorCode::unsupported;
  return ErrorCode::invalid_input;
}

bool is_intra_only(AVCodecID codec) {
  const AVCodecDescriptor* const d = avcodec_descriptor_get(codec);
  return d != nullptr && (d->props & AV_CODEC_PROP_INTRA_ONLY) != 0;
}

}  // namespace

AvSource::~AvSource() {
  codec_.reset();  // its threads may still speak to errors_
  input_.reset();
}

Result<std::unique_ptr<AvSource>> AvSource::open(const std::string& path, const std::string& url,
                                                 const AvOpening& opening) {
  catch_av_log();
  std::unique_ptr<AvSource> source(new AvSource);
  source->path_ = path;
  source->url_ = url;
  source->opening_ = opening;
  auto done = source->open_input();
  if (done) done = source->open_stream();
  if (done) done = source->open_codec();
  if (!done) return tl::unexpected(done.error());
  if (std::string_view(source->input_->iformat->name) == "mpegts" && url.starts_with("file:"))
    source->ends_inside_ = ts_file_is_cut(path, source->stream_->id);
  return source;
}

Result<void> AvSource::open_input() {
  const auto refuse = [this](int error) {
    return fail(code_of(error), "cannot be opened as moving pictures: " + text_of_av_error(error),
                "Give a file that libav reads, or a still picture.", {.file = path_});
  };
  const AVInputFormat* format = nullptr;
  if (!opening_.demuxer.empty()) {
    format = av_find_input_format(opening_.demuxer.c_str());
    if (format == nullptr) return refuse(AVERROR_DEMUXER_NOT_FOUND);
  }
  AVFormatContext* context = avformat_alloc_context();
  if (context == nullptr) return refuse(AVERROR(ENOMEM));
  context->opaque = &errors_;
  context->interrupt_callback = {.callback = ask_interrupt, .opaque = &opening_.interrupt};
  if (opening_.probe_s > 0) context->max_analyze_duration = static_cast<std::int64_t>(opening_.probe_s * AV_TIME_BASE);
  Dictionary own;
  Dictionary& options = opening_.options != nullptr ? *opening_.options : own;
  if (!opening_.protocols.empty()) options.set("protocol_whitelist", opening_.protocols);
  const int opened = avformat_open_input(&context, url_.c_str(), format, options.address());
  if (opened < 0) return refuse(opened);  // libav has freed the context
  input_.reset(context);
  return {};
}

Result<void> AvSource::open_stream() {
  // The container's own fields, before the decoder's overwrite them. Streams without a header are complete later.
  const unsigned headed = input_->nb_streams;
  std::vector<ParametersPtr> before;
  for (unsigned i = 0; i < headed; ++i) {
    before.emplace_back(avcodec_parameters_alloc());
    if (!before.back() || avcodec_parameters_copy(before.back().get(), input_->streams[i]->codecpar) < 0)
      return fail(ErrorCode::io, "out of memory", "Close other programs.", {.file = path_});
  }
  const int found = avformat_find_stream_info(input_.get(), nullptr);
  const int index = av_find_best_stream(input_.get(), AVMEDIA_TYPE_VIDEO, -1, -1, nullptr, 0);
  if (index < 0)
    return fail(opening_.interrupt && opening_.interrupt() ? ErrorCode::timeout : ErrorCode::invalid_input,
                "has no moving pictures that can be found" + (found < 0 ? ": " + text_of_av_error(found) : ""),
                "Give a file with a video stream.", {.file = path_});
  stream_ = input_->streams[index];
  for (unsigned i = 0; i < input_->nb_streams; ++i)
    if (static_cast<int>(i) != index) input_->streams[i]->discard = AVDISCARD_ALL;
  if (static_cast<unsigned>(index) < headed) {
    container_ = std::move(before[static_cast<std::size_t>(index)]);
  } else {
    container_.reset(avcodec_parameters_alloc());
  }
  if (!container_) return fail(ErrorCode::io, "out of memory", "Close other programs.", {.file = path_});
  return {};
}

Result<void> AvSource::open_codec() {
  const AVCodec* const codec = avcodec_find_decoder(stream_->codecpar->codec_id);
  if (codec == nullptr)
    return fail(ErrorCode::unsupported, fmt::format("no decoder for {}", avcodec_get_name(stream_->codecpar->codec_id)),
                "Convert it to a format that libav decodes.", {.file = path_});
  codec_.reset(avcodec_alloc_context3(codec));
  if (!codec_ || avcodec_parameters_to_context(codec_.get(), stream_->codecpar) < 0)
    return fail(ErrorCode::invalid_input, "its codec parameters cannot be used", "Check the file.", {.file = path_});
  // Empty, so that what comes out with the frames is what the bitstream says.
  codec_->color_trc = AVCOL_TRC_UNSPECIFIED;
  codec_->color_primaries = AVCOL_PRI_UNSPECIFIED;
  codec_->colorspace = AVCOL_SPC_UNSPECIFIED;
  codec_->color_range = AVCOL_RANGE_UNSPECIFIED;
  codec_->chroma_sample_location = AVCHROMA_LOC_UNSPECIFIED;
  codec_->opaque = &errors_;
  codec_->pkt_timebase = stream_->time_base;
  codec_->thread_count = opening_.threads > 0 ? opening_.threads : av_cpu_count();
  codec_->thread_type = FF_THREAD_FRAME | FF_THREAD_SLICE;
  codec_->err_recognition = AV_EF_CRCCHECK | AV_EF_BITSTREAM | AV_EF_BUFFER | AV_EF_CAREFUL;
  codec_->flags |= AV_CODEC_FLAG_OUTPUT_CORRUPT | AV_CODEC_FLAG_UNALIGNED;  // unaligned: exact cropping at the left
  const int opened = avcodec_open2(codec_.get(), codec, nullptr);
  if (opened < 0)
    return fail(ErrorCode::invalid_input,
                fmt::format("the {} decoder refuses it: {}", codec->name, text_of_av_error(opened)), "Check the file.",
                {.file = path_});
  return {};
}

std::string AvSource::place_of(std::int64_t pts) const {
  if (pts == AV_NOPTS_VALUE) return {};
  return fmt::format("at {:.3f} s", static_cast<double>(pts) * av_q2d(stream_->time_base));
}

bool AvSource::in_window(std::int64_t pts) const {
  return pts == AV_NOPTS_VALUE || (pts >= window_.start && pts < window_.end);
}

// ---- packets

PacketPtr AvSource::read() {
  if (held_) return std::move(held_);
  PacketPtr packet(av_packet_alloc());
  while (packet && !input_ended_) {
    const int got = av_read_frame(input_.get(), packet.get());
    if (got == AVERROR(EAGAIN)) {
      if (opening_.interrupt && opening_.interrupt()) {
        read_error_ = AVERROR_EXIT;
        break;
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
      continue;
    }
    if (got < 0) {
      read_error_ = got;
      if (got == AVERROR_EOF && input_->pb != nullptr && input_->pb->error < 0) read_error_ = input_->pb->error;
      break;
    }
    if (packet->stream_index != stream_->index) {
      av_packet_unref(packet.get());
      continue;
    }
    ++packets_read_;
    if (is_intra_only(stream_->codecpar->codec_id)) packet->flags |= AV_PKT_FLAG_KEY;
    return packet;
  }
  input_ended_ = true;
  return nullptr;
}

// The last packet is told from the others by looking one further.
PacketPtr AvSource::read_marking_end() {
  if (!ends_inside_) return read();
  PacketPtr packet = ahead_ ? std::move(ahead_) : read();
  if (packet) ahead_ = read();
  if (packet && !ahead_) packet->flags |= AV_PKT_FLAG_CORRUPT;
  return packet;
}

PacketPtr AvSource::next_packet() {
  while (PacketPtr packet = read_marking_end()) {
    if (!key_seen_ && (packet->flags & AV_PKT_FLAG_KEY) == 0) {
      troubles_.add("packets before the first key frame, left out,", place_of(packet->pts));
      continue;
    }
    key_seen_ = true;
    return packet;
  }
  return nullptr;
}

bool AvSource::find_key(std::int64_t pts) {
  while (PacketPtr packet = read()) {
    if ((packet->flags & AV_PKT_FLAG_KEY) == 0) continue;
    if (packet->pts == pts) {
      held_ = std::move(packet);
      return true;
    }
    if (packet->pts > pts) return false;
  }
  return false;
}

Result<void> AvSource::go_to(const AvWindow& window) {
  window_ = window;
  if (window.start == std::numeric_limits<std::int64_t>::min()) return {};
  if (av_seek_frame(input_.get(), stream_->index, window.start, AVSEEK_FLAG_BACKWARD) >= 0 && find_key(window.start))
    return {};
  // The container's own index does not lead there: from the beginning, packet by packet.
  codec_.reset();
  input_.reset();
  input_ended_ = false;
  read_error_ = 0;
  auto done = open_input();
  if (done) done = open_stream();
  if (done) done = open_codec();
  if (!done) return done;
  if (find_key(window.start)) return {};
  return fail(ErrorCode::invalid_input, fmt::format("the key frame {} is not there", place_of(window.start)),
              "Index the file again: it has changed.", {.file = path_});
}

// ---- what was sent, and its health

void AvSource::remember(const AVPacket& packet) {
  const std::int64_t serial = next_serial_++;
  if ((packet.flags & AV_PKT_FLAG_KEY) != 0 || chains_.empty())
    chains_.push_back({.key_serial = serial, .key_pts = packet.pts});
  sent_[serial] = {.pts = packet.pts, .disposable = (packet.flags & AV_PKT_FLAG_DISPOSABLE) != 0, .damaged = false};
  if (packet.pts != AV_NOPTS_VALUE && (packet.flags & AV_PKT_FLAG_DISCARD) == 0 && in_window(packet.pts))
    awaited_.emplace(packet.pts, serial);
  if ((packet.flags & AV_PKT_FLAG_CORRUPT) != 0) {
    if (in_window(packet.pts)) troubles_.add("corrupt packet", place_of(packet.pts));
    mark(serial);
  }
  while (!sent_.empty() && sent_.begin()->first < serial - kRemembered) sent_.erase(sent_.begin());
  while (chains_.size() > 2 && chains_[1].key_serial < serial - kRemembered) chains_.pop_front();
}

const AvSource::Chain* AvSource::chain_of(std::int64_t serial, const Chain** before) const {
  const Chain* found = nullptr;
  for (const Chain& chain : chains_) {
    if (chain.key_serial > serial) break;
    if (before != nullptr) *before = found;
    found = &chain;
  }
  return found;
}

void AvSource::mark(std::int64_t serial) {
  const auto sent = sent_.find(serial);
  if (sent == sent_.end()) return;
  sent->second.damaged = true;
  if (sent->second.disposable) return;
  auto* const chain = const_cast<Chain*>(chain_of(serial, nullptr));
  if (chain == nullptr) return;
  const bool leading = sent->second.pts < chain->key_pts;
  std::int64_t& from = leading ? chain->leading_broken_from : chain->broken_from;
  from = std::min(from, serial);
}

void AvSource::mark_awaited() {
  for (const auto& [pts, serial] : awaited_) mark(serial);
  if (awaited_.empty() && next_serial_ > 0) mark(next_serial_ - 1);
}

bool AvSource::is_damaged(std::int64_t serial, std::int64_t pts) const {
  const auto sent = sent_.find(serial);
  if (sent == sent_.end()) return true;  // nothing is known of it
  if (sent->second.damaged) return true;
  const Chain* before = nullptr;
  const Chain* const chain = chain_of(serial, &before);
  if (chain == nullptr) return true;
  if (chain->broken_from < serial) return true;
  if (pts >= chain->key_pts) return false;
  return chain->leading_broken_from < serial || (before != nullptr && before->broken_from != kNever);
}

void AvSource::harvest(bool call_failed, const char* call, int code) {
  bool blamed = false;
  for (const AvErrors::Entry& entry : errors_.take()) {
    const std::string kind = kind_of_message(entry.message);
    if (!entry.from_decoder) {
      troubles_.add("container: " + kind, fmt::format("after packet {}", packets_read_));
      continue;
    }
    blamed = true;
    const auto sent = sent_.find(entry.packet);
    if (sent == sent_.end()) {
      troubles_.add("decoder: " + kind, {});
      mark_awaited();
      continue;
    }
    mark(entry.packet);
    if (in_window(sent->second.pts)) troubles_.add("decoder: " + kind, place_of(sent->second.pts));
  }
  if (!call_failed || blamed) return;
  const auto last = sent_.empty() ? AV_NOPTS_VALUE : sent_.rbegin()->second.pts;
  troubles_.add(fmt::format("decoder: {} ({})", text_of_av_error(code), call), place_of(last));
  mark_awaited();
}

// ---- frames

// Sends one packet, or the end of the stream. False when nothing more can be sent.
bool AvSource::send_next() {
  if (finished_) return false;
  const PacketPtr packet = next_packet();
  if (!packet) {
    finished_ = true;
    const int sent = avcodec_send_packet(codec_.get(), nullptr);
    harvest(sent < 0, "end", sent);
    return true;
  }
  codec_->reordered_opaque = next_serial_;
  remember(*packet);
  const int sent = avcodec_send_packet(codec_.get(), packet.get());
  harvest(sent < 0, "packet", sent);
  return true;
}

std::optional<AvDecoded> AvSource::next() {
  if (!codec_) return std::nullopt;
  for (int failures = 0; failures < kMostFailures;) {
    FramePtr frame(av_frame_alloc());
    if (!frame) break;
    const int got = avcodec_receive_frame(codec_.get(), frame.get());
    harvest(got < 0 && got != AVERROR(EAGAIN) && got != AVERROR_EOF, "picture", got);
    if (got == AVERROR_EOF) return finish();
    if (got == AVERROR(EAGAIN)) {
      if (!send_next()) return finish();
      continue;
    }
    if (got < 0) {
      ++failures;
      continue;
    }
    AvDecoded decoded = take(std::move(frame));
    if (decoded.pts != AV_NOPTS_VALUE && decoded.pts < window_.start) continue;
    if (decoded.pts != AV_NOPTS_VALUE && decoded.pts >= window_.end) return finish();
    return decoded;
  }
  return finish();
}

AvDecoded AvSource::take(FramePtr frame) {
  const std::int64_t serial = frame->reordered_opaque;
  AvDecoded decoded;
  decoded.pts = frame->pts != AV_NOPTS_VALUE ? frame->pts : frame->best_effort_timestamp;
  if ((frame->flags & AV_FRAME_FLAG_CORRUPT) != 0 || frame->decode_error_flags != 0) {
    if (in_window(decoded.pts)) troubles_.add("decoder: errors concealed", place_of(decoded.pts));
    mark(serial);
  }
  if (!first_pts_ && decoded.pts != AV_NOPTS_VALUE)
    first_pts_ = awaited_.empty() ? decoded.pts : std::min(decoded.pts, awaited_.begin()->first);
  if (decoded.pts != AV_NOPTS_VALUE) decoded.lost_before = drop_awaited_before({decoded.pts, serial});
  decoded.damaged = is_damaged(serial, decoded.pts);
  if (last_pts_ && decoded.pts != AV_NOPTS_VALUE && decoded.pts <= *last_pts_ && in_window(decoded.pts))
    troubles_.add("pictures out of order", place_of(decoded.pts));
  if (decoded.pts != AV_NOPTS_VALUE) {
    last_pts_ = decoded.pts;
    last_end_ = static_cast<std::int64_t>(static_cast<std::uint64_t>(decoded.pts) +
                                          static_cast<std::uint64_t>(std::max<std::int64_t>(frame->pkt_duration, 0)));
  }
  decoded.frame = std::move(frame);
  return decoded;
}

std::int64_t AvSource::drop_awaited_before(const std::pair<std::int64_t, std::int64_t>& shown) {
  std::int64_t lost = 0;
  while (!awaited_.empty() && *awaited_.begin() < shown) {
    const auto [pts, serial] = *awaited_.begin();
    awaited_.erase(awaited_.begin());
    if (pts >= window_.end) continue;
    ++lost;
    troubles_.add("picture lost: its packet gave none", place_of(pts));
    mark(serial);
  }
  awaited_.erase(shown);
  return lost;
}

std::optional<AvDecoded> AvSource::finish() {
  finished_ = true;
  codec_.reset();
  for (const AvErrors::Entry& entry : errors_.take())
    if (!entry.from_decoder) troubles_.add("container: " + kind_of_message(entry.message), {});
  static_cast<void>(drop_awaited_before({window_.end, 0}));
  return std::nullopt;
}

}  // namespace provenit::programme
