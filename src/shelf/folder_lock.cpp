#include "folder_lock.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace provenit::shelf {

Result<FolderLock> FolderLock::take(const std::string& folder) {
  const int file = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  int failed = file < 0 ? errno : 0;
  if (failed == 0)
    while (::flock(file, LOCK_EX) != 0)
      if (errno != EINTR) {
        failed = errno;
        break;
      }
  if (failed == 0) return FolderLock(file);
  if (file >= 0) ::close(file);
  return fail(ErrorCode::io, std::string("cannot be locked: ") + std::strerror(failed),
              "Check that the folder is there and that you may read it.", {.file = folder});
}

FolderLock::~FolderLock() {
  if (file_ >= 0) ::close(file_);
}

}  // namespace provenit::shelf
