#pragma once
// What the views share: a page with its title and notes, plots with axes, and the picture fitted to the page.
#include <utility>

#include "canvas.h"

namespace provenit::programme::drawing {

inline constexpr int kMargin = 36, kHead = 64;
inline constexpr double kTitleSize = 30, kLabelSize = 19, kNoteSize = 18, kLineStep = 26;

/// An empty page with title on the left and what is looked at on the right; the drawing starts below kHead.
[[nodiscard]] Canvas page(int width, int height, const std::string& title, const LightImage& image,
                          const PictureLabel& label);
/// Lines of text at the foot of the page, from its left margin.
void notes(Canvas& canvas, std::span<const std::string> lines);
[[nodiscard]] constexpr int notes_height(std::size_t lines) {
  return 12 + static_cast<int>(kLineStep * static_cast<double>(lines)) + 16;
}

/// Densities: grey to white by the logarithm of the count per column of the picture, or by counts alone.
void draw_counts(Canvas& canvas, const Rect& plot, const Counts& counts, const Ink& colour, int picture_width = 0);

/// Luminances with a tick on a PQ scale.
inline constexpr std::array<double, 12> kTicks{0.005, 0.05, 0.5, 5, 26, 100, 203, 400, 1000, 2000, 4000, 10000};
[[nodiscard]] double pq_signal(double cdm2);
/// "0.005", "203", "10000"
[[nodiscard]] std::string number_text(double value);
/// "12.3 %", "0.04 %", "< 0.01 %", "0 %"
[[nodiscard]] std::string share_text(double share);

/// The picture fitted into a box: reduced by a whole factor, or magnified by one.
struct Fit {
  int reduce = 1, magnify = 1;
  int width = 0, height = 0;  ///< of the reduced picture, before it is magnified
  [[nodiscard]] std::string text() const;
};
[[nodiscard]] Fit fit(const LightImage& image, int width, int height);
/// Mean linear light of each reduce x reduce square, row by row.
[[nodiscard]] std::vector<colour::AbsoluteRgb<>> mean_light(const LightImage& image, const Fit& fit);
/// BT.1886 signal of the SDR ways to the sRGB of the drawing: the same light relative to white.
[[nodiscard]] Ink drawn(const colour::SignalRgb<>& sdr);

[[nodiscard]] Drawing waveform_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing parade_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing vectorscope_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing chromaticity_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing histogram_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing false_colour_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing gamut_page(const LightImage& image, const PictureLabel& label);
[[nodiscard]] Drawing sdr_page(const LightImage& image, const PictureLabel& label);

}  // namespace provenit::programme::drawing
