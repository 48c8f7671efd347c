// What kind of source a path is, by content and not by name.
#include <filesystem>

#include "provenit/programme/reader.h"
#include "reader/moving.h"

namespace provenit::programme {

Result<std::unique_ptr<Reader>> open_reader(const std::string& path, const ReaderOptions& options) {
  return open_moving(path, options);
}

Result<FrameIndex> index_frames(const std::string& path) {
  return index_moving(path);
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
  return open_moving_part(path, index, first, last, options);
}

}  // namespace provenit::programme
