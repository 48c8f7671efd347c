#pragma once
// Files as one archive, and one file out of an archive, in memory. By libzip.
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::report {

struct ZipEntry {
  std::string name;
  std::string bytes;
};
/// The same entries give the same bytes: files carry no time. Errors: io.
[[nodiscard]] Result<std::string> zip(const std::vector<ZipEntry>& entries);
/// Every file of an archive by its name; folders are left out. Errors: invalid_input.
[[nodiscard]] Result<std::map<std::string, std::string>> unzip(std::string_view archive);

}  // namespace provenit::report
