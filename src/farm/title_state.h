#pragma once
// What a file is known by without reading it.
#include <cstdint>
#include <string>

namespace provenit::farm {

struct FileState {
  std::uint64_t bytes = 0;
  std::int64_t modified_ns = 0;
  friend bool operator==(const FileState&, const FileState&) = default;
};
/// Of a file; empty for a folder, a pattern of names, or nothing.
[[nodiscard]] FileState file_state(const std::string& path);

}  // namespace provenit::farm
