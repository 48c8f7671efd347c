#pragma once
// Luminance counted by the upper half of its float: sign, exponent and the first 7 bits of the fraction, so 128 bins in
// each octave. A bin's geometric centre is within 0.4 % of everything in it.
#include <array>
#include <bit>
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
    count(table, luminance, std::make_integer_sequence<int, Count>());
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
    (++table[kPlace % kCopies * kBins + bin_of(luminance + kPlace)], ...);
  }
  static HWY_INLINE int bin_of(const float* luminance) {
    static_assert(std::endian::native == std::endian::little);
    std::uint16_t upper_half = 0;
    std::memcpy(&upper_half, reinterpret_cast<const char*>(luminance) + 2, 2);
    return upper_half;
  }
  std::vector<std::uint32_t> counts_;
};

/// Percentiles by nearest rank: the luminance of the ceil(p / 100 n)th pixel in rising order, which is known to its
/// bin's centre, kept within [luminance_min, luminance_max] of the record; the first and the last pixel are known
/// exactly. And the stored 128 bins.
void fill_light(std::span<const std::uint32_t> counts, std::int64_t pixels, FrameRecord& record);

}  // namespace provenit::programme::kernel
