#pragma once
// A file that is there whole or not at all.
#include <string>

#include "provenit/base/error.h"

namespace provenit::signal {

/// A name beside the wanted one to write to. What stands there is removed unless keep() gave it the wanted name.
class PartFile {
 public:
  explicit PartFile(std::string path) : path_(std::move(path)), part_(path_ + ".part") {}
  PartFile(const PartFile&) = delete;
  PartFile& operator=(const PartFile&) = delete;
  ~PartFile();

  [[nodiscard]] const std::string& part() const { return part_; }
  /// Errors: io with the wanted path.
  [[nodiscard]] Result<void> keep();
  /// An io error about the wanted path.
  [[nodiscard]] tl::unexpected<Error> refuse(const std::string& why) const;
  /// Whether a file can be made there, before minutes are spent on what goes into it. Errors: io.
  [[nodiscard]] Result<void> try_out();

 private:
  std::string path_, part_;
  bool mine_ = false, kept_ = false;
};

}  // namespace provenit::signal
