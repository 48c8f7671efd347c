#pragma once
// Numbers that look random and are the same on every machine.
#include <cstdint>

namespace provenit::signal::pictures {

/// SplitMix64: Steele, Lea, Flood, OOPSLA 2014.
class Seeded {
 public:
  explicit Seeded(std::uint64_t seed) : state_(seed) {}
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
    z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
    return z ^ (z >> 31);
  }
  /// 0 to n - 1, by the upper 32 bits; n below 2^31.
  int below(int n) { return static_cast<int>((next() >> 32) * static_cast<std::uint64_t>(n) >> 32); }

 private:
  std::uint64_t state_;
};

}  // namespace provenit::signal::pictures
