#pragma once
// What a forecast says of a frame, and the same of any intended and shown light.
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace provenit::forecast {

/// Intended black and highlights: luminance that the signal asks for, cd/m2. Our own choice.
inline constexpr double kDarkBelow = 0.05, kHighlightAbove = 100, kShadowBelow = 1;

enum class Quantity {
  mean_delta_e,    ///< mean over the pixels of Delta E ITP (BT.2124) between intended and shown light
  share_above_1,   ///< share of pixels with more than 1
  share_above_3,   ///< and more than 3
  highlight_lost,  ///< share of the detail above kHighlightAbove that is lost: over neighbours in a row that both lie
                   ///< there, 1 - sum min(|dI shown|, |dI intended|) / sum |dI intended|; 0 without such detail
  shadow_lost,     ///< the same of neighbours that both lie below kShadowBelow
  halo_cdm2,       ///< mean light that pixels below kDarkBelow show beyond what they should; 0 without such pixels
  halo_share,      ///< that light over all light shown
  dimming          ///< share of the picture's light that the limiter takes away
};
inline constexpr std::size_t kQuantities = 8;
[[nodiscard]] const char* name_of(Quantity quantity);  ///< as spelled here

/// Sums over pixels; those of parts of a frame add up.
struct Sums {
  double pixels = 0, delta = 0, above_1 = 0, above_3 = 0, high = 0, high_kept = 0, low = 0, low_kept = 0, dark = 0,
         dark_excess = 0, shown = 0;
  Sums& operator+=(const Sums& b);
};

using Numbers = std::array<double, kQuantities>;
/// unlimited_shown: the sum of luminance that would be shown without the limiter over the same pixels, <= 0: not known,
/// dimming is 0.
[[nodiscard]] Numbers numbers_of(const Sums& sums, double unlimited_shown);

/// The plain definition in double precision, of rows of `width` pixels: what the fast path is held to, and what is
/// true of a simulated display.
[[nodiscard]] Sums sums_of(int width, std::span<const std::array<float, 3>> intended_xyz,
                           std::span<const std::array<float, 3>> shown_xyz);

/// A figure with its interval of 90 %.
struct Figure {
  double value = 0, lower = 0, upper = 0;
  [[nodiscard]] bool holds(double truth) const { return lower <= truth && truth <= upper; }
};
using Figures = std::array<Figure, kQuantities>;
[[nodiscard]] inline const Figure& of(const Figures& figures, Quantity q) {
  return figures[static_cast<std::size_t>(q)];
}

}  // namespace provenit::forecast
