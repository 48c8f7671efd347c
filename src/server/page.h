#pragma once
// The page of the workbench: the files of its web build, as they lie in the binary.
#include <optional>
#include <string>
#include <string_view>

namespace provenit::server {

struct PageFile {
  std::string_view type;  ///< media type
  std::string_view bytes;
  bool lasting = false;  ///< its name changes with its content: browsers may keep it
};
/// "/" is the page itself. nullopt if the build has no such file.
[[nodiscard]] std::optional<PageFile> page_file(std::string_view path);
/// What "/" answers where the build has no page.
[[nodiscard]] std::string_view no_page();

}  // namespace provenit::server
