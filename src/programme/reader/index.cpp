// Frames of a file without decoding them.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <span>

#include "provenit/base/text.h"
#include "reader/moving.h"

namespace provenit::programme {
namespace {

// Whether an H.264 packet starts a coded video sequence. Demuxers also call pictures "key" from which decoding becomes
// right only after a while (recovery points): no part may begin there.
bool has_idr(std::span<const std::uint8_t> data, std::span<const std::uint8_t> header) {
  const auto is_idr = [](std::uint8_t byte) { return (byte & 0x1f) == 5; };
  if (!header.empty() && header[0] == 1 && header.size() > 4) {  // units with their length in front (ISO 14496-15)
    const std::size_t bytes = (header[4] & 3U) + 1;
    std::size_t at = 0;
    while (at + bytes < data.size()) {
      std::size_t length = 0;
      for (std::size_t i = 0; i < bytes; ++i) length = length << 8 | data[at + i];
      at += bytes;
      if (is_idr(data[at])) return true;
      if (length > data.size() - at) return false;
      at += length;
    }
    return false;
  }
  for (std::size_t i = 0; i + 3 < data.size(); ++i)  // units after a start code (H.264 Annex B)
    if (data[i] == 0 && data[i + 1] == 0 && data[i + 2] == 1 && is_idr(data[i + 3])) return true;
  return false;
}

bool may_begin(const AVPacket& packet, const AVCodecParameters& parameters) {
  if ((packet.flags & AV_PKT_FLAG_KEY) == 0) return false;
  if (parameters.codec_id != AV_CODEC_ID_H264) return true;
  return has_idr({packet.data, static_cast<std::size_t>(packet.size)},
                 {parameters.extradata, static_cast<std::size_t>(parameters.extradata_size)});
}

struct Shown {
  std::int64_t pts = 0, serial = 0;
  bool key = false;
};

}  // namespace

Result<FrameIndex> index_moving(const std::string& path) {
  auto opened = AvSource::open(path, "file:" + path, {.threads = 1});
  if (!opened) return tl::unexpected(opened.error());
  AvSource& source = **opened;
  std::vector<Shown> frames;
  std::error_code ignored;
  std::string facts = fmt::format("{};", std::filesystem::file_size(path, ignored));
  std::int64_t serial = 0;
  while (const PacketPtr packet = source.next_packet()) {
    facts += fmt::format("{},{},{};", packet->size, packet->pts, packet->flags);
    if ((packet->flags & AV_PKT_FLAG_DISCARD) != 0) {
      ++serial;
      continue;
    }
    if (packet->pts == AV_NOPTS_VALUE)
      return fail(ErrorCode::unsupported, "its packets carry no times of display, so it cannot be indexed",
                  "Put the stream into MP4 or Matroska, or survey it as a whole.", {.file = path, .frame = serial});
    frames.push_back(
        {.pts = packet->pts, .serial = serial++, .key = may_begin(*packet, source.container_parameters())});
  }
  if (frames.empty()) return fail(ErrorCode::invalid_input, "holds no frame", "Check the file.", {.file = path});
  std::int64_t latest_key = std::numeric_limits<std::int64_t>::min();
  for (const Shown& frame : frames) {
    if (!frame.key) continue;
    if (frame.pts <= latest_key)
      return fail(ErrorCode::unsupported, "its times run backwards, so it cannot be indexed",
                  "Copy the stream into a new file with rising times.", {.file = path, .frame = frame.serial});
    latest_key = frame.pts;
  }
  std::sort(frames.begin(), frames.end(),
            [](const Shown& a, const Shown& b) { return std::pair(a.pts, a.serial) < std::pair(b.pts, b.serial); });

  FrameIndex index;
  index.first_pts = frames.front().pts;
  index.fingerprint = sha256_hex(facts);
  index.key_frames.push_back(0);
  for (std::size_t i = 0; i < frames.size(); ++i) {
    index.time_s.push_back(seconds_of(frames[i].pts, index.first_pts, source.stream().time_base));
    if (frames[i].key && frames[i].serial > 0) index.key_frames.push_back(static_cast<std::int64_t>(i));
  }
  return index;
}

}  // namespace provenit::programme
