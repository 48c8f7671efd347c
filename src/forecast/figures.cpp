#include "provenit/forecast/figures.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"

namespace provenit::forecast {

const char* name_of(Quantity quantity) {
  switch (quantity) {
    case Quantity::mean_delta_e:
      return "mean_delta_e";
    case Quantity::share_above_1:
      return "share_above_1";
    case Quantity::share_above_3:
      return "share_above_3";
    case Quantity::highlight_lost:
      return "highlight_lost";
    case Quantity::shadow_lost:
      return "shadow_lost";
    case Quantity::halo_cdm2:
      return "halo_cdm2";
    case Quantity::halo_share:
      return "halo_share";
    case Quantity::dimming:
      return "dimming";
  }
  return "";
}

Sums& Sums::operator+=(const Sums& b) {
  pixels += b.pixels;
  delta += b.delta;
  above_1 += b.above_1;
  above_3 += b.above_3;
  high += b.high;
  high_kept += b.high_kept;
  low += b.low;
  low_kept += b.low_kept;
  dark += b.dark;
  dark_excess += b.dark_excess;
  shown += b.shown;
  return *this;
}

Numbers numbers_of(const Sums& s, double unlimited_shown) {
  const double n = std::max(s.pixels, 1.0);
  // Less than a thousandth of a PQ step of 10 bits per pixel is no detail.
  const double least = 1e-6 * n;
  return {s.delta / n,
          s.above_1 / n,
          s.above_3 / n,
          s.high > least ? 1 - s.high_kept / s.high : 0,
          s.low > least ? 1 - s.low_kept / s.low : 0,
          s.dark > 0 ? s.dark_excess / s.dark : 0,
          s.shown > 0 ? s.dark_excess / s.shown : 0,
          unlimited_shown > 0 ? 1 - s.shown / unlimited_shown : 0};
}

Sums sums_of(int width, std::span<const std::array<float, 3>> intended_xyz,
             std::span<const std::array<float, 3>> shown_xyz) {
  static const auto to_rgb = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
  const auto itp = [](const std::array<float, 3>& xyz) {
    return colour::itp_from_ictcp(colour::ictcp_from_pq_rgb(
        colour::rgb_from_xyz(colour::AbsoluteXyz<>{.X = xyz[0], .Y = xyz[1], .Z = xyz[2]}, to_rgb)));
  };
  Sums s;
  double i_before = 0, shown_before = 0, y_before = 0;
  for (std::size_t k = 0; k < intended_xyz.size(); ++k) {
    const double y = intended_xyz[k][1], shown_y = shown_xyz[k][1];
    const auto a = itp(intended_xyz[k]), b = itp(shown_xyz[k]);
    const double delta =
        720 * std::sqrt((a.i - b.i) * (a.i - b.i) + (a.t - b.t) * (a.t - b.t) + (a.p - b.p) * (a.p - b.p));
    s.pixels += 1;
    s.delta += delta;
    s.above_1 += delta > 1 ? 1 : 0;
    s.above_3 += delta > 3 ? 1 : 0;
    s.shown += shown_y;
    if (y < kDarkBelow) {
      s.dark += 1;
      s.dark_excess += shown_y - y;
    }
    if (k % static_cast<std::size_t>(width) != 0) {
      const double asked = std::abs(a.i - i_before), kept = std::min(asked, std::abs(b.i - shown_before));
      if (y > kHighlightAbove && y_before > kHighlightAbove) s.high += asked, s.high_kept += kept;
      if (y < kShadowBelow && y_before < kShadowBelow) s.low += asked, s.low_kept += kept;
    }
    i_before = a.i;
    shown_before = b.i;
    y_before = y;
  }
  return s;
}

}  // namespace provenit::forecast
