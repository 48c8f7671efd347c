// Waveform, parade, histogram: levels over the picture's width, or alone.
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

Counts over_width(const LightImage& image, int most, std::string y_name, double y_first, double y_last) {
  Counts c{.columns = std::min(image.width, most),
           .rows = kWaveformLevels,
           .x_first = 0,
           .x_last = static_cast<double>(image.width),
           .y_first = y_first,
           .y_last = y_last,
           .x_name = "luma column",
           .y_name = std::move(y_name)};
  c.count.resize(static_cast<std::size_t>(c.columns) * static_cast<std::size_t>(c.rows));
  return c;
}

/// Counts by columns, each by one thread: `row_of(i)` gives the row of pixel i, or -1.
template <class RowOf>
void count_columns(const LightImage& image, Counts& c, RowOf row_of) {
  const auto first = [&](int column) { return (column * image.width + c.columns - 1) / c.columns; };
  std::vector<std::uint64_t> left_out(static_cast<std::size_t>(c.columns));
  tbb::parallel_for(tbb::blocked_range<int>(0, c.columns, 64), [&](const tbb::blocked_range<int>& range) {
    for (int y = 0; y < image.height; ++y)
      for (int column = range.begin(); column < range.end(); ++column)
        for (int x = first(column); x < first(column + 1); ++x) {
          const int row = row_of(image.at(x, y));
          if (row < 0)
            ++left_out[static_cast<std::size_t>(column)];
          else
            ++c.count[static_cast<std::size_t>(row) * static_cast<std::size_t>(c.columns) +
                      static_cast<std::size_t>(column)];
        }
  });
  for (const auto n : left_out) c.left_out += n;
}

}  // namespace

Counts luminance_waveform(const LightImage& image) {
  Counts c = over_width(image, kWaveformColumns, "PQ signal of luminance", 0, 1);
  const LevelScale scale(c.rows);
  count_columns(image, c, [&](std::size_t i) { return scale.part(image.luminance(i)); });
  return c;
}

std::array<Counts, 3> signal_parade(const LightImage& image) {
  std::array<Counts, 3> parade;
  constexpr std::array<const char*, 3> names{"R'", "G'", "B'"};
  for (std::size_t channel = 0; channel < 3; ++channel) {
    Counts& c = parade[channel] = over_width(image, kParadeColumns, names[channel], -0.1, 1.1);
    count_columns(image, c, [&, channel](std::size_t i) {
      const double row = std::floor((image.signal[i][channel] - c.y_first) / (c.y_last - c.y_first) * c.rows);
      return row >= 0 && row < c.rows ? static_cast<int>(row) : -1;
    });
  }
  return parade;
}

LevelHistogram level_histogram(const LightImage& image) {
  LevelHistogram h{.luminance = std::vector<std::uint32_t>(kHistogramLevels),
                   .max_rgb = std::vector<std::uint32_t>(kHistogramLevels)};
  const LevelScale scale(kHistogramLevels);
  for (std::size_t i = 0; i < image.light.size(); ++i) {
    ++h.luminance[static_cast<std::size_t>(scale.part(image.luminance(i)))];
    ++h.max_rgb[static_cast<std::size_t>(scale.part(*std::ranges::max_element(image.light[i])))];
  }
  return h;
}

}  // namespace provenit::programme
