// What kind of source a path is, by content and not by name.
#include <filesystem>

#include "provenit/programme/reader.h"
#include "reader/moving.h"
#include "reader/stills.h"

namespace provenit::programme {
namespace {

Result<void> check_there(const std::string& path) {
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (!std::filesystem::exists(status))
    return fail(ErrorCode::not_found, "no such file", "Check the path.", {.file = path});
  if (!std::filesystem::is_regular_file(status))
    return fail(ErrorCode::invalid_input, "is no regular file", "Give a file, a folder of stills or a name with ####.",
                {.file = path});
  return {};
}

// Files of a still or a sequence; empty for moving pictures.
Result<std::vector<std::string>> stills_at(const std::string& path) {
  if (is_sequence(path)) return sequence_files(path);
  if (const auto there = check_there(path); !there) return tl::unexpected(there.error());
  if (still_kind_of(path) != StillKind::none) return std::vector<std::string>{path};
  return std::vector<std::string>{};
}

}  // namespace

Result<std::unique_ptr<Reader>> open_reader(const std::string& path, const ReaderOptions& options) {
  const auto stills = stills_at(path);
  if (!stills) return tl::unexpected(stills.error());
  if (stills->empty()) return open_moving(path, options);
  return open_stills(path, *stills, 0, static_cast<std::int64_t>(stills->size()), options);
}

Result<FrameIndex> index_frames(const std::string& path, const ReaderOptions& options) {
  const auto stills = stills_at(path);
  if (!stills) return tl::unexpected(stills.error());
  return stills->empty() ? index_moving(path) : index_stills(*stills, options.frame_rate_hz);
}

Result<std::unique_ptr<Reader>> open_part(const std::string& path, const FrameIndex& index, std::int64_t first,
                                          std::int64_t last, const ReaderOptions& options) {
  const auto size = static_cast<std::int64_t>(index.time_s.size());
  bool is_key = false;
  for (const std::int64_t key : index.key_frames) is_key = is_key || key == first;
  if (!is_key || last <= first || last > size)
    return fail(ErrorCode::out_of_range,
                "frames " + std::to_string(first) + " to " + std::to_string(last) + " are no part of this index",
                "Begin at one of its key frames and end after it.", {.file = path, .frame = first});
  const auto stills = stills_at(path);
  if (!stills) return tl::unexpected(stills.error());
  if (stills->empty()) return open_moving(path, options, PartOf{.index = &index, .first = first, .last = last});
  if (static_cast<std::int64_t>(stills->size()) != size)
    return fail(ErrorCode::conflict, "the sequence has changed since it was indexed", "Index it again.",
                {.file = path});
  return open_stills(path, *stills, first, last, options);
}

}  // namespace provenit::programme
