#pragma once
// What the survey keeps of a frame and of a title. Plain numbers with fixed sizes, so that surveys are stored, merged and
// compared byte for byte.
#include <array>
#include <cstdint>

namespace provenit::programme {

inline constexpr std::array<double, 7> kPercentiles{1, 5, 50, 90, 99, 99.9, 99.99};
inline constexpr std::array<double, 6> kAboveCdm2{100, 203, 500, 1000, 2000, 4000};
inline constexpr std::array<double, 3> kBelowCdm2{0.005, 0.05, 0.5};

/// Active picture: the part inside letterbox and pillarbox bars, in luma samples.
struct ActiveArea {
  std::int32_t left = 0, top = 0, width = 0, height = 0;
  friend bool operator==(const ActiveArea&, const ActiveArea&) = default;
};

/// Light of one frame. Luminances in cd/m2; shares are 0 to 1 of all pixels of the frame.
struct FrameFigures {
  std::int64_t index = 0;
  double time_s = 0;
  double max_rgb_max = 0;          ///< largest max(R,G,B): CTA-861.3 A.1, exact by code value
  double max_rgb_mean = 0;         ///< mean of max(R,G,B) over the whole frame
  double max_rgb_mean_active = 0;  ///< the same over the active area: what MaxFALL uses (H.265 D.3.35 note; CTA-861.3 A.2)
  double max_rgb_robust = 0;       ///< largest max(R,G,B) that is no isolated overshoot; definition in survey.h
  double luminance_max = 0, luminance_mean = 0, luminance_mean_active = 0, luminance_min = 0;
  std::array<double, kPercentiles.size()> luminance_percentile{};
  std::array<double, kPercentiles.size()> max_rgb_percentile{};
  std::array<double, kAboveCdm2.size()> share_above{};  ///< of luminance
  std::array<double, kBelowCdm2.size()> share_below{};
  double share_outside_bt709 = 0, share_outside_p3 = 0;
  double mean_u_prime = 0, mean_v_prime = 0;  ///< chromaticity of the frame's mean XYZ
  std::int32_t brightest_x = 0, brightest_y = 0;  ///< first pixel in row order with max_rgb_max
  ActiveArea active;               ///< of this frame alone; hysteresis over time is applied per title
  double temporal_difference = 0;  ///< mean |difference| of the PQ-coded luminance of a 64 x 36 block mean to the frame before; 0 for the first
  bool damaged = false;
};

}  // namespace provenit::programme
