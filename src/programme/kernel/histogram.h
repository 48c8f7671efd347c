#pragma once
// Luminance counted by the upper half of its float: sign, exponent and the first 7 bits of the fraction, so 128 bins in
// each octave. A bin's geometric centre is within 0.4 % of everything in it.
#include <array>
#include <cstdint>
#include <cstring>
#include <span>
#include <vector>

#include "provenit/programme/figures.h"

namespace provenit::programme::kernel {

class Histogram {
 public:
  static constexpr int kBins = 0x8000;  ///< all floats >= 0
  static constexpr int kCopies = 4;     ///< apart, so that a count need not wait for the one before it

  Histogram() : counts_(std::size_t{kBins} * kCopies) {}
  void clear();
  /// Counts `Count` luminances, a multiple of kCopies. None is negative or NaN.
  template <int Count>
  void count(const float* luminance) {
    static_assert(Count % kCopies == 0);
    std::uint32_t* const table = counts_.data();
    for (int i = 0; i < Count; ++i) ++table[(i % kCopies) * kBins + bin_of(luminance + i)];
  }
  void add(float luminance, std::uint32_t pixels) { counts_[bin_of(&luminance)] += pixels; }
  /// Takes back pixels of luminance 0 that only filled a vector.
  void remove_zeros(std::uint32_t pixels) { counts_[0] -= pixels; }

  /// One count per bin, the copies together.
  [[nodiscard]] std::span<const std::uint32_t> merge();

 private:
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
