#pragma once
// What the survey keeps of a frame. Plain numbers of fixed size, so that surveys are stored, merged and compared byte
// for byte. Definitions with their sources: docs/survey.md.
#include <array>
#include <cstdint>

namespace provenit::programme {

inline constexpr std::array<double, 7> kPercentiles{1, 5, 50, 90, 99, 99.9, 99.99};
inline constexpr std::array<double, 6> kAboveCdm2{100, 203, 500, 1000, 2000, 4000};
inline constexpr std::array<double, 3> kBelowCdm2{0.005, 0.05, 0.5};
inline constexpr int kLightBins = 128;  ///< of the stored histogram: bin i holds PQ signals [i, i + 1) / 128
inline constexpr int kBlocks = 16;      ///< blocks of the stored map, along the longer side at most

/// Active picture: the part inside letterbox and pillarbox bars, in luma samples. Empty (all zero) for a frame that is
/// all bar.
struct ActiveArea {
  std::int32_t left = 0, top = 0, width = 0, height = 0;
  friend bool operator==(const ActiveArea&, const ActiveArea&) = default;
};

/// Light of one frame. Luminances in cd/m2; shares are 0 to 1 of all pixels of the frame, bars included.
struct FrameFigures {
  std::int64_t index = 0;
  double time_s = 0;
  double max_rgb_max = 0;          ///< largest max(R,G,B), exact by code value: CTA-861.3-A A.1
  double max_rgb_mean = 0;         ///< mean of max(R,G,B) over the whole frame
  double max_rgb_mean_active = 0;  ///< the same over `active`: CTA-861.3-A A.2 with H.265 D.3.35 note 3
  double max_rgb_robust = 0;       ///< largest level that all pixels of some 3 x 3 square reach: no lone overshoot
  double luminance_max = 0, luminance_min = 0, luminance_mean = 0, luminance_mean_active = 0;
  std::array<double, kPercentiles.size()> luminance_percentile{};  ///< within 0.5 % (0.0001 cd/m2 below 0.0001)
  std::array<double, kAboveCdm2.size()> share_above{};             ///< luminance > level
  std::array<double, kBelowCdm2.size()> share_below{};             ///< luminance < level
  double share_outside_bt709 = 0, share_outside_p3 = 0;            ///< some linear component negative there
  double mean_u_prime = 0, mean_v_prime = 0;                       ///< of the frame's mean XYZ; 0, 0 for a black frame
  std::int32_t brightest_x = 0, brightest_y = 0;                   ///< first pixel in row order with max_rgb_max
  ActiveArea active;               ///< of this frame alone; hysteresis over time is applied per title
  double dark_beside_bright = 0;   ///< share of cells under 1 cd/m2 next to a cell with a pixel of 100 cd/m2 or more
  double near_black_detail = 0;    ///< share of cells with structure between 0.005 and 1 cd/m2
  double temporal_difference = 0;  ///< mean |PQ difference| of the blocks to the frame before; 0 for the first frame
  bool damaged = false;
  friend bool operator==(const FrameFigures&, const FrameFigures&) = default;
};

/// A frame as the survey stores it.
struct FrameRecord {
  FrameFigures figures;
  std::array<std::uint32_t, kLightBins> light{};  ///< pixels by luminance
  std::int32_t block_columns = 0, block_rows = 0;
  /// Mean luminance of each block as PQ signal x 65535, row by row. A block is 4 x 4 cells, a cell e x e luma samples
  /// with e = 16 ceil(max(width, height) / 1024): 64 at 3840 x 2160, so that its map has 15 x 9 blocks.
  std::array<std::uint16_t, kBlocks * kBlocks> blocks{};
  friend bool operator==(const FrameRecord&, const FrameRecord&) = default;
};

}  // namespace provenit::programme
