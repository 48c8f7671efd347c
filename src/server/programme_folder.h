#pragma once
// The one folder of films and stills that the server may look into. Names come from outside: nothing beyond the folder
// is opened, by whatever name or link.
#include <cstdint>
#include <string>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::server {

struct ProgrammeFile {
  std::string name;  ///< below the folder, parted by '/'
  std::int64_t bytes = 0;
  bool still = false;
};

class ProgrammeFolder {
 public:
  /// Empty: there is none.
  explicit ProgrammeFolder(std::string folder) : folder_(std::move(folder)) {}

  [[nodiscard]] bool given() const { return !folder_.empty(); }
  [[nodiscard]] std::string name() const;  ///< its last part
  /// Films and stills in it and its folders, by name; 5000 at most. Errors: not_found, io.
  [[nodiscard]] Result<std::vector<ProgrammeFile>> files() const;
  /// Where a file lies that is named as files() does. Errors: not_found; invalid_input for a name that leads outside.
  [[nodiscard]] Result<std::string> path_of(const std::string& name) const;

 private:
  std::string folder_;
};

}  // namespace provenit::server
