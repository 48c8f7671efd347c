#include <fmt/format.h>
#include <zlib.h>

#include <array>
#include <cstring>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "chunk_io_internal.h"
#include "provenit/base/text.h"

namespace provenit::programme::detail {
namespace {

struct ChunkHead {
  std::array<char, 4> mark{'C', 'H', 'N', 'K'};
  std::uint32_t frames = 0, packed = 0, check = 0;
};
static_assert(sizeof(ChunkHead) == 16);

constexpr const char* kRestore = "Restore the file from a copy, or survey the title again.";

std::uint32_t check_of(std::string_view bytes) {
  return static_cast<std::uint32_t>(
      crc32(0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
}

// Whether the head can be that of a chunk; its frames are bounded, so that a damaged one asks for no mad memory.
bool is_sound(const ChunkHead& head) {
  return head.mark == ChunkHead{}.mark && head.frames > 0 && head.frames <= kMostChunkFrames;
}

}  // namespace

std::string pack_chunk(std::span<const FrameRecord> frames) {
  const std::string bytes = encode_frames(frames);
  auto size = compressBound(static_cast<uLong>(bytes.size()));
  std::string packed(size, '\0');
  compress2(reinterpret_cast<Bytef*>(packed.data()), &size, reinterpret_cast<const Bytef*>(bytes.data()),
            static_cast<uLong>(bytes.size()), Z_BEST_SPEED);  // cannot fail: the buffer is as large as the bound
  packed.resize(size);
  ChunkHead head;
  head.frames = static_cast<std::uint32_t>(frames.size());
  head.packed = static_cast<std::uint32_t>(packed.size());
  head.check = check_of(packed);
  std::string out(sizeof head, '\0');
  std::memcpy(out.data(), &head, sizeof head);
  return out + packed;
}

Result<std::vector<FrameRecord>> unpack_chunk(std::string_view bytes) {
  const auto damaged = [] { return fail(ErrorCode::invalid_input, "a chunk of frames is damaged", kRestore); };
  ChunkHead head;
  if (bytes.size() < sizeof head) return damaged();
  std::memcpy(&head, bytes.data(), sizeof head);
  const auto packed = bytes.substr(sizeof head);
  if (!is_sound(head) || packed.size() != head.packed || check_of(packed) != head.check) return damaged();
  std::string frames(head.frames * kFrameRecordBytes, '\0');
  auto size = static_cast<uLongf>(frames.size());
  const int code = uncompress(reinterpret_cast<Bytef*>(frames.data()), &size,
                              reinterpret_cast<const Bytef*>(packed.data()), static_cast<uLong>(packed.size()));
  if (code != Z_OK || size != frames.size()) return damaged();
  return decode_frames(frames);
}

Result<OpenFile> open_survey_file(const std::string& path) {
  OpenFile file{.path = path, .in = std::ifstream(path, std::ios::binary)};
  if (!file.in)
    return fail(ErrorCode::not_found, "cannot be opened", "Check the name and that you may read it.", {.file = path});
  std::error_code error;
  file.size = std::filesystem::file_size(path, error);
  std::string first(kFirstLine.size(), '\0');
  file.in.read(first.data(), static_cast<std::streamsize>(first.size()));
  if (error || !file.in || first != kFirstLine)
    return fail(ErrorCode::invalid_input, "is no survey", "Give a file that `provenit survey --out` wrote.",
                {.file = path, .line = 1});
  return file;
}

Result<SurveyHeader> read_header(OpenFile& file) {
  std::string line;
  for (char c = 0; line.size() < kLongestHeader && file.in.get(c) && c != '\n';) line += c;
  const auto json = nlohmann::json::parse(line, nullptr, false);
  if (!file.in || json.is_discarded())
    return fail(ErrorCode::invalid_input, "the header of the survey is damaged", kRestore,
                {.file = file.path, .line = 2});
  auto header = survey_header_from_json(json);
  if (!header) header.error().where = {.file = file.path, .line = 2};
  return header;
}

Result<std::optional<Chunk>> read_chunk(OpenFile& file) {
  Chunk chunk{.frames = {}, .offset = static_cast<std::uint64_t>(file.in.tellg())};
  const auto none = [&]() -> Result<std::optional<Chunk>> {
    file.in.clear();
    file.in.seekg(static_cast<std::streamoff>(chunk.offset));
    return std::optional<Chunk>{};
  };
  ChunkHead head;
  if (chunk.offset + sizeof head > file.size) return none();
  file.in.read(reinterpret_cast<char*>(&head), sizeof head);
  if (!is_sound(head) || chunk.offset + sizeof head + head.packed > file.size) return none();
  std::string bytes(sizeof head + head.packed, '\0');
  std::memcpy(bytes.data(), &head, sizeof head);
  file.in.read(bytes.data() + sizeof head, head.packed);
  if (!file.in) return fail(ErrorCode::io, "cannot be read", "Check the disk.", {.file = file.path});
  auto frames = unpack_chunk(bytes);
  if (!frames) {
    frames.error().where.file = file.path;
    return tl::unexpected(frames.error());
  }
  chunk.frames = std::move(*frames);
  return chunk;
}

SurveyHash::SurveyHash(const SurveyHeader& header) : lines_(header_line(header)) {}
void SurveyHash::add(std::span<const FrameRecord> chunk) {
  lines_ += sha256_hex(encode_frames(chunk)) + "\n";
}
std::string SurveyHash::value() const {
  return sha256_hex(lines_);
}

Result<void> Rechunk::add(std::span<const FrameRecord> frames) {
  for (const FrameRecord& frame : frames) {
    held_.push_back(frame);
    if (held_.size() < kChunkFrames) continue;
    if (auto taken = take_(held_); !taken) return taken;
    held_.clear();
  }
  return {};
}

Result<void> Rechunk::finish() {
  if (held_.empty()) return {};
  auto taken = take_(held_);
  held_.clear();
  return taken;
}

std::string header_line(const SurveyHeader& header) {
  return to_json(header).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

}  // namespace provenit::programme::detail
