#include "kernel/histogram.h"

#include <algorithm>
#include <bit>
#include <cmath>

#include "provenit/colour/transfer_pq.h"

namespace provenit::programme::kernel {
namespace {

double bin_centre(int bin) {
  const auto edge = [](int i) {
    // The bin after the last finite one has no upper edge.
    const auto bits = static_cast<std::uint32_t>(std::min(i, 0x7f80)) << 16;
    return bits == 0x7f800000U ? 0x1p128 : static_cast<double>(std::bit_cast<float>(bits));
  };
  return std::sqrt(edge(bin)) * std::sqrt(edge(bin + 1));
}

std::vector<std::uint8_t> make_light_bins() {
  std::vector<std::uint8_t> bins(Histogram::kBins);
  for (int i = 0; i < Histogram::kBins; ++i) {
    const double signal = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = bin_centre(i)}).value;
    bins[i] = static_cast<std::uint8_t>(std::clamp(std::floor(kLightBins * signal), 0.0, kLightBins - 1.0));
  }
  return bins;
}

}  // namespace

void Histogram::clear() {
  std::fill(counts_.begin(), counts_.end(), 0U);
}

std::span<const std::uint32_t> Histogram::merge() {
  for (int copy = 1; copy < kCopies; ++copy)
    for (int i = 0; i < kBins; ++i) counts_[i] += counts_[copy * kBins + i];
  return std::span(counts_).first(kBins);
}

void fill_light(std::span<const std::uint32_t> counts, std::int64_t pixels, FrameRecord& record) {
  static const std::vector<std::uint8_t> light_bins = make_light_bins();
  FrameFigures& f = record.figures;
  std::int64_t below = 0;
  std::size_t next = 0;
  for (int i = 0; i < Histogram::kBins; ++i) {
    if (counts[i] == 0) continue;
    record.light[light_bins[i]] += counts[i];
    below += counts[i];
    for (; next < kPercentiles.size(); ++next) {
      const auto rank = static_cast<std::int64_t>(std::ceil(kPercentiles[next] * static_cast<double>(pixels) / 100));
      if (below < rank) break;
      const double centre = std::clamp(bin_centre(i), f.luminance_min, f.luminance_max);
      f.luminance_percentile[next] = rank <= 1 ? f.luminance_min : rank == pixels ? f.luminance_max : centre;
    }
  }
}

}  // namespace provenit::programme::kernel
