#pragma once
// Random numbers as a pure function of (seed, stream, index): a resumed run draws the same ones, and no standard
// library's distribution decides the result.
#include <cmath>
#include <cstdint>
#include <numbers>

namespace provenit::simulated {

/// SplitMix64 finaliser (Steele, Lea, Flood, OOPSLA 2014): a bijection of 64-bit integers that passes for random.
constexpr std::uint64_t mixed(std::uint64_t z) {
  z += 0x9e3779b97f4a7c15ULL;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return z ^ (z >> 31);
}

class Random {
 public:
  constexpr Random(std::uint64_t seed, std::uint64_t stream) : key_(mixed(mixed(seed) ^ mixed(stream * 2 + 1))) {}

  /// In (0, 1).
  [[nodiscard]] double uniform(std::uint64_t index) const {
    return (static_cast<double>(mixed(key_ + mixed(index)) >> 11) + 0.5) * 0x1p-53;
  }
  /// Standard normal (Box and Muller).
  [[nodiscard]] double normal(std::uint64_t index) const {
    return std::sqrt(-2 * std::log(uniform(2 * index))) * std::cos(2 * std::numbers::pi * uniform(2 * index + 1));
  }

 private:
  std::uint64_t key_;
};

}  // namespace provenit::simulated
