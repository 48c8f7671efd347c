#include "provenit/loan/run_lock.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

namespace provenit::loan {
namespace {

std::string lock_path(const std::string& bench_path, store::Id loan) {
  return fmt::format("{}-loan-{}.lock", bench_path, loan);
}

/// Locks of an open file description: two of one process exclude each other as well, and closing another file of the
/// process takes none away. The database's own locks are of the other kind, and on the bench itself.
struct flock whole_file() {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  return lock;
}

/// The file may have been removed by its last holder between being opened and being locked.
bool still_named(int file, const std::string& path) {
  struct stat opened {
  }, named{};
  return ::fstat(file, &opened) == 0 && ::stat(path.c_str(), &named) == 0 && opened.st_ino == named.st_ino &&
         opened.st_dev == named.st_dev;
}

}  // namespace

Result<RunLock> RunLock::take(const std::string& bench_path, store::Id loan) {
  auto path = lock_path(bench_path, loan);
  const auto io = [&] {
    return fail(ErrorCode::io, fmt::format("cannot be locked: {}", std::strerror(errno)),
                "Check that you may write in the bench's folder.", {.file = path});
  };
  for (;;) {
    const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (file < 0) return io();
    auto wanted = whole_file();
    if (::fcntl(file, F_OFD_SETLK, &wanted) != 0) {
      const bool held = errno == EAGAIN || errno == EACCES;
      const auto refused = io();
      ::close(file);
      if (!held) return refused;
      return fail(ErrorCode::conflict, fmt::format("readings of loan {} are being taken already", loan),
                  "Let that run end, or stop it; then start again. What it has read is kept.", {.file = bench_path});
    }
    if (still_named(file, path)) return RunLock(std::move(path), file);
    ::close(file);
  }
}

bool RunLock::is_held(const std::string& bench_path, store::Id loan) {
  const int file = ::open(lock_path(bench_path, loan).c_str(), O_RDWR | O_CLOEXEC);
  if (file < 0) return false;
  auto wanted = whole_file();
  const bool held = ::fcntl(file, F_OFD_GETLK, &wanted) == 0 && wanted.l_type != F_UNLCK;
  ::close(file);
  return held;
}

RunLock::RunLock(RunLock&& other) noexcept : path_(std::move(other.path_)), file_(std::exchange(other.file_, -1)) {}

RunLock::~RunLock() {
  if (file_ < 0) return;
  ::unlink(path_.c_str());  // before it is let go, so that nobody locks a file that is about to lose its name
  ::close(file_);
}

}  // namespace provenit::loan
