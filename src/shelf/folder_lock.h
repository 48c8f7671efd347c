#pragma once
// One program at a time adds to a shelf. The lock goes with its holder, however that ends.
#include <string>
#include <utility>

#include "provenit/base/error.h"

namespace provenit::shelf {

class FolderLock {
 public:
  /// Waits until nobody else holds it. Errors: io.
  [[nodiscard]] static Result<FolderLock> take(const std::string& folder);
  FolderLock(FolderLock&& other) noexcept : file_(std::exchange(other.file_, -1)) {}
  FolderLock& operator=(FolderLock&&) = delete;
  ~FolderLock();

 private:
  explicit FolderLock(int file) : file_(file) {}
  int file_;
};

}  // namespace provenit::shelf
