#pragma once
// Instruction sets of vector code, by name: for tests and benchmarks, and for users who ask for one.
#include <hwy/targets.h>

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <string>
#include <vector>

namespace provenit::simd {

/// One instruction set: a bit of HWY_TARGETS, and Highway's name for it in small letters ("avx3", "avx2", "sse4").
struct Level {
  std::int64_t target = 0;
  std::string name;
};

/// Those of `compiled` that this machine has, the best first. compiled: HWY_TARGETS of the file that has the code.
inline std::vector<Level> levels(std::int64_t compiled) {
  std::vector<Level> out;
  const std::int64_t here = hwy::SupportedTargets() & compiled;
  for (int bit = 0; bit < 63; ++bit) {
    const std::int64_t target = std::int64_t{1} << bit;
    if ((here & target) == 0) continue;
    Level level{.target = target, .name = hwy::TargetName(target)};
    std::ranges::transform(level.name, level.name.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    out.push_back(std::move(level));
  }
  return out;
}

inline std::vector<std::string> level_names(std::int64_t compiled) {
  std::vector<std::string> names;
  for (auto& level : levels(compiled)) names.push_back(std::move(level.name));
  return names;
}

}  // namespace provenit::simd
