#pragma once
// The parts of a survey file: first line, header line, chunks, last line.
#include <cstdint>
#include <fstream>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/programme/survey_file.h"

namespace provenit::programme::detail {

inline constexpr std::string_view kFirstLine = "PROVENIT-SURVEY 1\n";
inline constexpr std::string_view kLastLine = "END ";  ///< then the hash and a line feed
inline constexpr std::size_t kLongestHeader = 4u << 20;
inline constexpr std::size_t kMostChunkFrames = 4096;

/// One chunk as bytes: frames, their number and a check sum, compressed.
[[nodiscard]] std::string pack_chunk(std::span<const FrameRecord> frames);

/// The inverse. Errors: invalid_input if it is damaged or not one whole chunk.
[[nodiscard]] Result<std::vector<FrameRecord>> unpack_chunk(std::string_view bytes);

struct OpenFile {
  std::string path;
  std::ifstream in;
  std::uint64_t size = 0;
};
[[nodiscard]] Result<OpenFile> open_survey_file(const std::string& path);
[[nodiscard]] Result<SurveyHeader> read_header(OpenFile& file);

/// The next chunk; nullopt where no whole chunk begins, with the file's position left there.
/// Errors: invalid_input for a chunk that is all there but damaged.
struct Chunk {
  std::vector<FrameRecord> frames;
  std::uint64_t offset = 0;  ///< of its first byte
};
[[nodiscard]] Result<std::optional<Chunk>> read_chunk(OpenFile& file);

/// Hash of a survey: SHA-256 over the header line and the SHA-256 of the frames of each chunk of kChunkFrames.
class SurveyHash {
 public:
  explicit SurveyHash(const SurveyHeader& header);
  void add(std::span<const FrameRecord> chunk);
  [[nodiscard]] std::string value() const;

 private:
  std::string lines_;
};

/// Collects frames to chunks of kChunkFrames.
class Rechunk {
 public:
  explicit Rechunk(std::function<Result<void>(std::span<const FrameRecord>)> take) : take_(std::move(take)) {}
  [[nodiscard]] Result<void> add(std::span<const FrameRecord> frames);
  [[nodiscard]] Result<void> finish();

 private:
  std::function<Result<void>(std::span<const FrameRecord>)> take_;
  std::vector<FrameRecord> held_;
};

/// Frames in order from any source, written as a finished survey file: whole or not at all.
using FrameSource = std::function<Result<void>(const std::function<Result<void>(std::span<const FrameRecord>)>&)>;
[[nodiscard]] Result<void> write_survey(const std::string& path, const SurveyHeader& header, const FrameSource& frames);

[[nodiscard]] std::string header_line(const SurveyHeader& header);

}  // namespace provenit::programme::detail
