#pragma once
// Libraries that read by path need a file: it lies in a folder that goes with the object.
#include <unistd.h>

#include <filesystem>
#include <string>

#include "provenit/base/error.h"
#include "provenit/base/text.h"

namespace provenit::loan {

/// A folder of its own that goes with the object.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    auto pattern = (std::filesystem::temp_directory_path() / "provenit-XXXXXX").string();
    if (::mkdtemp(pattern.data()) != nullptr) path_ = pattern;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    if (!path_.empty()) std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] const std::string& path() const { return path_; }
  /// Writes `bytes` there, under a name of its own that keeps the ending of `name`: readers go by it. Gives the path.
  [[nodiscard]] Result<std::string> put(const std::string& bytes, const std::string& name) const {
    if (path_.empty())
      return fail(ErrorCode::io, "no temporary folder can be made", "Check the folder for temporary files.");
    auto path = path_ + "/file" + std::filesystem::path(name).extension().string();
    if (auto written = write_file(path, bytes); !written) return tl::unexpected(written.error());
    return path;
  }

 private:
  std::string path_;
};

}  // namespace provenit::loan
