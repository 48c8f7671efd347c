#pragma once
// Another program, run to its end.
#include <string>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::farm {

struct Ran {
  int exit = -1;  ///< -1: ended by a signal
  std::string out, err;
};
/// Looked up in PATH, without a shell and without input. Errors: unsupported if there is no such program; io.
[[nodiscard]] Result<Ran> run_program(const std::vector<std::string>& words);

}  // namespace provenit::farm
