#pragma once
// Luminance counted by the upper half of its float: sign, exponent and the first 7 bits of the fraction, so 128 bins in
// each octave. A bin's geometric centre is within 0.4 % of everything in it.
#include <array>
#include <cstdint>
#include <cstring>
#include <span>
#include <utility>
#include <vector>

#include "hwy/base.h"
#include "provenit/programme/figures.h"

namespace provenit::programme::kernel {

class Histogram {
 public:
  static constexpr int kBins = 0x8000;  ///< all floats >= 0
  static constexpr int kCopies = 4;     ///< apart, so that a count need not wait for the one before it

  Histogram() : counts_(std::size_t{kBins} * kCopies) {}
  void clear();
  [[nodiscard]] std::uint32_t* table() { return counts_.data(); }
  /// Counts `Count` luminances in a histogram's table. None is negative or NaN.
  template <int Count>
  static HWY_INLINE void count(std::uint32_t* table, const float* luminance) {
    count(table, luminance, std::make_integer_sequence<int, Count / 2>());
  }
  void add(float luminance, std::uint32_t pixels) { counts_[bin_of(&luminance)] += pixels; }
  /// Takes back pixels of luminance 0 that only filled a vector.
  void remove_zeros(std::uint32_t pixels) { counts_[0] -= pixels; }

  /// One count per bin, the copies together.
  [[nodiscard]] std::span<const std::uint32_t> merge();

 private:
  template <int... kPlace>
  static HWY_INLINE void count(std::uint32_t* table, const float* luminance,
                               std::integer_sequence<int, kPlace...> /*unused*/) {
    (count_two<kPlace>(table, luminance + 2 * kPlace), ...);
  }
  /// Two luminances by one load.
  template <int kPair>
  static HWY_INLINE void count_two(std::uint32_t* table, const float* luminance) {
    std::uint64_t bits = 0;
    std::memcpy(&bits, luminance, 8);
    ++table[2 * kPair % kCopies * kBins + static_cast<int>(bits >> 16 & 0xffffU)];
    ++table[(2 * kPair + 1) % kCopies * kBins + static_cast<int>(bits >> 48)];
  }
  static int bin_of(const float* luminance) {
    std::uint32_t bits = 0;
    std::memcpy(&bits, luminance, 4);
    return static_cast<int>(bits >> 16);
  }
  std::vector<std::uint32_t> counts_;
};

/// Percentiles by nearest rank: the luminance of the ceil(p / 100 n)th pixel in rising order, which is known to its
/// bin's centre, kept within [luminance_min, luminance_max] of the record; the first and the last pixel are known
/// exactly. And the stored 128 bins.
void fill_light(std::span<const std::uint32_t> counts, std::int64_t pixels, FrameRecord& record);

}  // namespace provenit::programme::kernel
