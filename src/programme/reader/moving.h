#pragma once
// Moving pictures out of files through libav, whole or in parts.
#include "provenit/programme/reader.h"
#include "reader/av_source.h"

namespace provenit::programme {

/// Frames [first, last) of an index.
struct PartOf {
  const FrameIndex* index = nullptr;
  std::int64_t first = 0, last = 0;
};

/// Info of a source whose first frame is decoded. Errors: as open_reader.
[[nodiscard]] Result<SourceInfo> describe_source(const std::string& path, const AvSource& source, const AVFrame& first,
                                                 const ReaderOptions& options);

/// Properties of a frame without its samples, for check_same_kind; null if memory is short.
[[nodiscard]] FramePtr kind_of(const AVFrame& frame);

/// Fails if the frame is not of the kind of the first one: a change of size, format or colour in mid-stream.
[[nodiscard]] Result<void> check_same_kind(const std::string& path, const AVFrame& first, const AVFrame& frame,
                                           std::int64_t index);

[[nodiscard]] Result<std::unique_ptr<Reader>> open_moving(const std::string& path, const ReaderOptions& options,
                                                          const std::optional<PartOf>& part = std::nullopt);
[[nodiscard]] Result<FrameIndex> index_moving(const std::string& path);

/// Seconds of a time stamp from the first one, the same double wherever it is computed.
[[nodiscard]] double seconds_of(std::int64_t pts, std::int64_t first_pts, AVRational time_base);

}  // namespace provenit::programme
