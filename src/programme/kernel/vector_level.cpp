#include "kernel/level.h"

namespace provenit::programme::kernel {
std::vector<std::string> vector_level_names() {
  return {"plain"};
}
Level vector_level(const std::string& /*name*/) {
  return plain_level();
}
}  // namespace provenit::programme::kernel
