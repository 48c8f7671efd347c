#pragma once
// One program at a time takes the readings of a loan. The bench itself keeps two programs from harming each other's
// readings; this keeps a second one from starting on the same display at all.
#include <string>

#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::loan {

/// Held while it lives. Kept by a file beside the bench, "tern.bench-loan-1.lock", which goes with it; the system lets
/// go of it when the program ends, however it ends.
class RunLock {
 public:
  /// Errors: conflict if it is held, by this program or another; io.
  [[nodiscard]] static Result<RunLock> take(const std::string& bench_path, store::Id loan);
  /// Whether anybody holds it now. Asking takes nothing.
  [[nodiscard]] static bool is_held(const std::string& bench_path, store::Id loan);

  RunLock(RunLock&& other) noexcept;
  RunLock& operator=(RunLock&&) = delete;
  ~RunLock();

 private:
  RunLock(std::string path, int file) : path_(std::move(path)), file_(file) {}
  std::string path_;
  int file_;
};

}  // namespace provenit::loan
