// Waveform, parade and histogram.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "page.h"

namespace provenit::programme::drawing {
namespace {

constexpr int kLevelAxis = 92;  // room for the numbers left of a plot

void luminance_axis(Canvas& canvas, const Rect& plot) {
  for (const double tick : kTicks) {
    const double y = plot.bottom() - pq_signal(tick) * plot.height;
    canvas.fill({plot.x, static_cast<int>(std::lround(y)), plot.width, 1}, kGrid, 0.8);
    canvas.text(plot.x - 12, y, kLabelSize, kText, number_text(tick), Align::right);
  }
}

/// A level across the plot with its number at the right edge, where there is room beside the plot.
void mark(Canvas& canvas, const Rect& plot, double y, const Ink& colour, const std::string& text, double text_y) {
  canvas.line({static_cast<double>(plot.x), y}, {static_cast<double>(plot.right()), y}, colour, 1.4, Dash::dashed);
  canvas.text(plot.right() + 12, text_y, kLabelSize, colour, text);
}

struct Light {
  double maximum = 0, mean = 0;
};
Light light_of(const LightImage& image) {
  Light light;
  for (std::size_t i = 0; i < image.light.size(); ++i) {
    const double y = image.luminance(i);
    light.maximum = std::max(light.maximum, y), light.mean += y;
  }
  light.mean /= std::max<double>(1, static_cast<double>(image.light.size()));
  return light;
}

std::string light_text(double cdm2) {
  return cdm2 < 0.1   ? fmt::format("{:.4f}", cdm2)
         : cdm2 < 100 ? fmt::format("{:.2f}", cdm2)
                      : fmt::format("{:.0f}", cdm2);
}

}  // namespace

Drawing waveform_page(const LightImage& image, const PictureLabel& label) {
  const Counts counts = luminance_waveform(image);
  const int wide = counts.columns * std::max(1, kWaveformColumns / counts.columns);
  const Rect plot{kMargin + kLevelAxis, kHead + 44, wide, kWaveformLevels};
  constexpr std::size_t kLines = 1;
  Canvas canvas =
      page(plot.right() + 190, plot.bottom() + 44 + notes_height(kLines), "Luminance waveform", image, label);
  canvas.text(plot.x - 12, kHead + 14, kLabelSize, kFaint, "cd/m²", Align::right);
  canvas.fill(plot, kPlotGround);
  draw_counts(canvas, plot, counts, kWhite, image.width);
  luminance_axis(canvas, plot);
  canvas.frame(plot, kGrid);
  for (int i = 0; i <= 4; ++i)
    canvas.text(plot.x + plot.width * i / 4.0, plot.bottom() + 20, kLabelSize, kFaint,
                fmt::format("{}", image.width * i / 4),
                i == 0   ? Align::left
                : i == 4 ? Align::right
                         : Align::centre);
  const Light light = light_of(image);
  const double high = plot.bottom() - std::min(1.0, pq_signal(light.maximum)) * plot.height;
  const double mean = plot.bottom() - std::min(1.0, pq_signal(light.mean)) * plot.height;
  mark(canvas, plot, high, kWarm, "max " + light_text(light.maximum), std::min(high, mean - 26));
  mark(canvas, plot, mean, kCold, "mean " + light_text(light.mean), mean);
  const std::array<std::string, kLines> lines{
      "Luminance Y of every pixel against its luma column. Evenly spaced in PQ signal; brightness by the logarithm of "
      "the count."};
  notes(canvas, lines);
  return canvas.take();
}

Drawing parade_page(const LightImage& image, const PictureLabel& label) {
  const auto parade = signal_parade(image);
  const int wide = parade[0].columns * std::max(1, kParadeColumns / parade[0].columns), gap = 24;
  const Rect first{kMargin + kLevelAxis, kHead + 44, wide, kWaveformLevels};
  constexpr std::size_t kLines = 1;
  Canvas canvas = page(std::max(900, first.x + 3 * wide + 2 * gap + kMargin), first.bottom() + notes_height(kLines),
                       "R′G′B′ parade", image, label);
  const bool linear = image.format.transfer == Transfer::linear;
  canvas.text(first.x - 12, kHead + 14, kLabelSize, kFaint, linear ? "sample" : "% signal", Align::right);
  constexpr std::array<Ink, 3> inks{ink(0xffb0a6), ink(0xb4e8b4), ink(0xaac8ff)};
  constexpr std::array<const char*, 3> names{"R′", "G′", "B′"};
  std::uint64_t left_out = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    Rect plot = first;
    plot.x += static_cast<int>(i) * (wide + gap);
    canvas.fill(plot, kPlotGround);
    draw_counts(canvas, plot, parade[i], inks[i], image.width);
    canvas.text(plot.x + plot.width / 2.0, kHead + 14, kLabelSize + 2, inks[i], names[i], Align::centre);
    for (int percent = 0; percent <= 100; percent += 10) {
      const double y =
          plot.bottom() - (percent / 100.0 - parade[i].y_first) / (parade[i].y_last - parade[i].y_first) * plot.height;
      canvas.fill({plot.x, static_cast<int>(std::lround(y)), plot.width, 1}, kGrid, percent % 50 == 0 ? 1 : 0.5);
      if (i == 0)
        canvas.text(plot.x - 12, y, kLabelSize, kText,
                    linear ? fmt::format("{:.1f}", percent / 100.0) : fmt::format("{}", percent), Align::right);
    }
    canvas.frame(plot, kGrid);
    left_out += parade[i].left_out;
  }
  const std::array<std::string, kLines> lines{fmt::format(
      "{} of every pixel against its luma column, chroma interpolated, nothing clamped.{}",
      linear ? "Sample" : "Signal", left_out > 0 ? fmt::format(" {} values lie outside -10 to 110 %.", left_out) : "")};
  notes(canvas, lines);
  return canvas.take();
}

Drawing histogram_page(const LightImage& image, const PictureLabel& label) {
  const LevelHistogram h = level_histogram(image);
  const Rect plot{kMargin + kLevelAxis, kHead + 44, 5 * kHistogramLevels, 560};
  constexpr std::size_t kLines = 2;
  Canvas canvas = page(plot.right() + kMargin, plot.bottom() + 72 + notes_height(kLines), "Histogram", image, label);
  canvas.fill(plot, kPlotGround);
  const double pixels = std::max<double>(1, static_cast<double>(image.light.size()));
  constexpr double kLowest = -6;  // decades: one pixel in a million
  const auto height = [&](std::uint32_t n) {
    return n == 0 ? 0.0 : std::clamp(1 - std::log10(n / pixels) / kLowest, 0.0, 1.0) * plot.height;
  };
  canvas.text(plot.x - 12, kHead + 14, kLabelSize, kFaint, "% pixels", Align::right);
  for (int decade = 0; decade >= kLowest; --decade) {
    const int y = static_cast<int>(std::lround(plot.y + decade / kLowest * plot.height));
    canvas.fill({plot.x, y, plot.width, 1}, kGrid, 0.7);
    canvas.text(plot.x - 12, y, kLabelSize, kText, number_text(100 * std::pow(10.0, decade)), Align::right);
  }
  for (const double tick : kTicks) {
    const double x = plot.x + pq_signal(tick) * plot.width;
    canvas.fill({static_cast<int>(std::lround(x)), plot.y, 1, plot.height}, kGrid, 0.7);
    // The two darkest stand close: their numbers move apart.
    const double apart = tick < 0.01 ? -14 : tick < 0.1 ? 14 : 0;
    canvas.text(x + apart, plot.bottom() + 20, kLabelSize, kText, number_text(tick),
                tick > 9000 ? Align::right : Align::centre);
  }
  canvas.text(plot.right(), plot.bottom() + 48, kLabelSize, kFaint, "cd/m²", Align::right);
  int before = 0;
  for (int i = 0; i < kHistogramLevels; ++i) {
    const auto bin = static_cast<std::size_t>(i);
    const int x = plot.x + 5 * i, y = static_cast<int>(std::lround(height(h.luminance[bin])));
    const int m = static_cast<int>(std::lround(height(h.max_rgb[bin])));
    canvas.fill({x, plot.bottom() - y, 5, y}, kText, 0.8);
    if (m > 0) canvas.fill({x, plot.bottom() - m, 5, 3}, kWarm);
    if (m > 0 && before > 0 && m != before)
      canvas.fill({x, plot.bottom() - std::max(m, before), 2, std::abs(m - before)}, kWarm);
    before = m;
  }
  canvas.frame(plot, kGrid);
  const std::array<std::string, kLines> lines{
      "Grey: luminance Y. Line: max(R,G,B), the light level of MaxCLL and MaxFALL.",
      "256 bins of equal PQ signal; the height is logarithmic."};
  notes(canvas, lines);
  return canvas.take();
}

}  // namespace provenit::programme::drawing
