#include "part_file.h"

#include <fmt/format.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>

namespace provenit::signal {

PartFile::~PartFile() {
  if (mine_ && !kept_) std::remove(part_.c_str());
}

Result<void> PartFile::try_out() {
  std::error_code ignored;
  if (std::filesystem::is_directory(path_, ignored)) return refuse("is a folder, not a file");
  errno = 0;
  const std::ofstream out(part_, std::ios::binary | std::ios::trunc);
  if (!out) return refuse(std::strerror(errno));
  mine_ = true;
  return {};
}

Result<void> PartFile::keep() {
  if (std::rename(part_.c_str(), path_.c_str()) != 0) return refuse(std::strerror(errno));
  kept_ = true;
  return {};
}

tl::unexpected<Error> PartFile::refuse(const std::string& why) const {
  return fail(ErrorCode::io, fmt::format("cannot be written: {}", why),
              "Check that the folder exists, that you may write there and that the disk has room.", {.file = path_});
}

}  // namespace provenit::signal
