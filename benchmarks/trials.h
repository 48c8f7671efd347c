#pragma once
// How many simulated trials the coverage figures make, and from which seed on.
#include <algorithm>
#include <cstdint>
#include <cstdlib>

namespace provenit::bench {

/// 1000, as the figures want; the variable of the environment asks for fewer for a quick look.
inline int trials(const char* variable = "COVERAGE_TRIALS", int fewest = 20) {
  const char* asked = std::getenv(variable);
  return asked == nullptr ? 1000 : std::max(fewest, std::atoi(asked));
}

/// 1; COVERAGE_FIRST_SEED asks for other trials, so that what is tuned is tuned on others than the figures use.
inline std::uint64_t first_seed() {
  const char* asked = std::getenv("COVERAGE_FIRST_SEED");
  return asked == nullptr ? 1 : std::strtoull(asked, nullptr, 10);
}

}  // namespace provenit::bench
