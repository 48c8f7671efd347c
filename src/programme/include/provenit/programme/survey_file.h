#pragma once
// A survey as a file: a header of JSON, the frames in compressed chunks, and a hash over both. Written while the survey
// runs, so that what was measured is never lost. Layout: docs/survey.md.
#include <cstdint>
#include <functional>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/figures.h"
#include "provenit/programme/reader.h"

namespace provenit::programme {

/// Method of the figures; a change of any definition in docs/survey.md raises it.
inline constexpr int kSurveyVersion = 1;

/// What a survey says of itself. No time of day and no machine in it: the same title gives the same bytes.
struct SurveyHeader {
  std::string title;        ///< file name without its folder, or the live address
  SourceInfo source;        ///< `path` is left out of the file
  std::string fingerprint;  ///< of the FrameIndex; empty for live
  std::string simd_level;   ///< of FrameMeter: another level may differ in the last bits
  std::string software;     ///< "provenit 0.1.0"
  int version = kSurveyVersion;
  bool live = false;
  std::int64_t title_frames = 0;     ///< of the whole title by its index; live: frames received
  std::int64_t first = 0, last = 0;  ///< this survey covers [first, last) of them
  std::int64_t measured = 0;         ///< frames in it; fewer than last - first if some could not be had
  std::int64_t dropped = 0;          ///< live: received but not measured
  bool complete = false;             ///< every frame of [first, last) was measured, none of them damaged
  std::vector<std::string> troubles;
};
[[nodiscard]] nlohmann::ordered_json to_json(const SurveyHeader& header);
[[nodiscard]] Result<SurveyHeader> survey_header_from_json(const nlohmann::json& json);

/// Frames as bytes: little-endian, fixed size per frame, no padding.
inline constexpr std::size_t kFrameRecordBytes =
    8 + 32 * 8 + 2 * 4 + 4 * 4 + 1 + 4 * kLightBins + 2 * 4 + 2 * kBlocks * kBlocks;
[[nodiscard]] std::string encode_frames(std::span<const FrameRecord> frames);
/// Errors: invalid_input if the size is no multiple of kFrameRecordBytes or a number is out of its range.
[[nodiscard]] Result<std::vector<FrameRecord>> decode_frames(std::string_view bytes);

/// Frames per chunk of a finished survey.
inline constexpr std::size_t kChunkFrames = 256;

/// A finished survey file. Reads chunk by chunk.
class SurveyFile {
 public:
  /// Reads and checks header, chunk frames and the hash. Errors: not_found, io; invalid_input naming what is damaged;
  /// conflict for a newer version; conflict for a survey that was not finished (resume it).
  [[nodiscard]] static Result<SurveyFile> open(const std::string& path);
  [[nodiscard]] const std::string& path() const;
  [[nodiscard]] const SurveyHeader& header() const;
  /// SHA-256 over header and frames, in hexadecimal: equal surveys have equal hashes.
  [[nodiscard]] const std::string& hash() const;
  /// Hands all frames over, chunk by chunk, in order; stops with the error that `take` gives.
  [[nodiscard]] Result<void> for_each_chunk(
      const std::function<Result<void>(std::span<const FrameRecord>)>& take) const;
  /// All frames at once (about 1.4 kB each).
  [[nodiscard]] Result<std::vector<FrameRecord>> frames() const;

  SurveyFile(SurveyFile&&) noexcept;
  SurveyFile& operator=(SurveyFile&&) noexcept;
  ~SurveyFile();

 private:
  struct Impl;
  explicit SurveyFile(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

/// A survey under way: frames are appended to "<path>.unfinished"; a full chunk is durable at once.
class SurveyWriter {
 public:
  /// Starts anew, or goes on with what a stopped run of the same header (fingerprint, format, version, first, last,
  /// SIMD level) has left. Errors: io; conflict if the file is there already or the leftover is of another survey.
  [[nodiscard]] static Result<SurveyWriter> begin(const std::string& path, const SurveyHeader& header);
  /// Frames that are already there.
  [[nodiscard]] std::int64_t frames_done() const;
  [[nodiscard]] Result<void> append(const FrameRecord& frame);
  /// Makes what was appended since the last full chunk durable, too.
  [[nodiscard]] Result<void> flush();
  /// Hands over the frames done so far, in order.
  [[nodiscard]] Result<void> for_each_done(const std::function<Result<void>(std::span<const FrameRecord>)>& take) const;
  /// Forgets frames from this position of the survey on (a resume begins at a key frame).
  [[nodiscard]] Result<void> keep_first(std::int64_t frames);
  /// Writes the finished file under its own name, whole or not at all, and removes the working file.
  [[nodiscard]] Result<void> finish(const SurveyHeader& header);

  SurveyWriter(SurveyWriter&&) noexcept;
  SurveyWriter& operator=(SurveyWriter&&) noexcept;
  ~SurveyWriter();

 private:
  struct Impl;
  explicit SurveyWriter(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::programme
