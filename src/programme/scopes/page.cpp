#include "page.h"

#include <fmt/format.h>
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"

namespace provenit::programme::drawing {

Canvas page(int width, int height, const std::string& title, const LightImage& image, const PictureLabel& label) {
  Canvas canvas(width, height);
  canvas.text(kMargin, kHead / 2.0 + 4, kTitleSize, kText, title);
  const std::string time = fmt::format("frame {}   {}", image.index, time_text(image.time_s));
  const double right = width - kMargin, room = right - kMargin - text_width(kTitleSize, title) - 40;
  std::string source = label.source;
  const auto whole = [&] { return text_width(kNoteSize, source + "   " + time); };
  // A long name keeps its end, which tells files of one folder apart.
  while (!source.empty() && whole() > room) {
    const std::size_t cut = source.starts_with("...") ? 4 : 1;
    source = source.size() > cut ? "..." + source.substr(cut) : "";
  }
  canvas.text(right, kHead / 2.0 + 4, kNoteSize, kFaint, source.empty() ? time : source + "   " + time, Align::right);
  return canvas;
}

void notes(Canvas& canvas, std::span<const std::string> lines) {
  double y = canvas.drawing().height - notes_height(lines.size()) + 12 + kLineStep / 2;
  for (const auto& line : lines) {
    canvas.text(kMargin, y, kNoteSize, kFaint, line);
    y += kLineStep;
  }
}

void draw_counts(Canvas& canvas, const Rect& plot, const Counts& counts, const Ink& colour, int picture_width) {
  std::vector<double> density(counts.count.begin(), counts.count.end());
  if (picture_width > 0)
    for (int column = 0; column < counts.columns; ++column) {
      const auto first = [&](int c) { return (c * picture_width + counts.columns - 1) / counts.columns; };
      const double share = picture_width / (static_cast<double>(first(column + 1) - first(column)) * counts.columns);
      for (int row = 0; row < counts.rows; ++row)
        density[static_cast<std::size_t>(row) * static_cast<std::size_t>(counts.columns) +
                static_cast<std::size_t>(column)] *= share;
    }
  std::vector<double> some;
  std::ranges::copy_if(density, std::back_inserter(some), [](double d) { return d > 0; });
  if (some.empty()) return;
  const auto high = some.begin() + static_cast<std::ptrdiff_t>(0.995 * static_cast<double>(some.size() - 1));
  std::ranges::nth_element(some, high);
  const double full = std::log1p(std::max(*high, 2.0));
  for (int y = 0; y < plot.height; ++y)
    for (int x = 0; x < plot.width; ++x) {
      const int column = x * counts.columns / plot.width, row = (plot.height - 1 - y) * counts.rows / plot.height;
      const double d = density[static_cast<std::size_t>(row) * static_cast<std::size_t>(counts.columns) +
                               static_cast<std::size_t>(column)];
      if (d > 0) canvas.blend(plot.x + x, plot.y + y, colour, 0.16 + 0.84 * std::min(1.0, std::log1p(d) / full));
    }
}

double pq_signal(double cdm2) {
  return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
}

std::string number_text(double value) {
  return fmt::format("{:g}", value);
}

std::string share_text(double share) {
  if (!(share > 0)) return "0 %";
  if (share < 1e-4) return "< 0.01 %";
  return fmt::format("{:.{}f} %", 100 * share, share < 0.01 ? 2 : 1);
}

std::string Fit::text() const {
  if (reduce > 1) return fmt::format("Each point is the mean light of {} × {} pixels.", reduce, reduce);
  return magnify > 1 ? fmt::format("Each pixel is shown {} times as large.", magnify) : "Each point is one pixel.";
}

Fit fit(const LightImage& image, int width, int height) {
  Fit f;
  f.reduce = std::max({1, (image.width + width - 1) / width, (image.height + height - 1) / height});
  f.width = (image.width + f.reduce - 1) / f.reduce;
  f.height = (image.height + f.reduce - 1) / f.reduce;
  if (f.reduce == 1) f.magnify = std::max(1, std::min(width / image.width, height / image.height));
  return f;
}

std::vector<colour::AbsoluteRgb<>> mean_light(const LightImage& image, const Fit& f) {
  std::vector<colour::AbsoluteRgb<>> means(static_cast<std::size_t>(f.width) * static_cast<std::size_t>(f.height));
  tbb::parallel_for(tbb::blocked_range<int>(0, f.height, 16), [&](const tbb::blocked_range<int>& rows) {
    for (int y = rows.begin(); y < rows.end(); ++y)
      for (int x = 0; x < f.width; ++x) {
        const int right = std::min((x + 1) * f.reduce, image.width),
                  bottom = std::min((y + 1) * f.reduce, image.height);
        std::array<double, 3> sum{};
        int n = 0;
        for (int v = y * f.reduce; v < bottom; ++v)
          for (int u = x * f.reduce; u < right; ++u, ++n)
            for (std::size_t i = 0; i < 3; ++i) sum[i] += image.light[image.at(u, v)][i];
        means[static_cast<std::size_t>(y) * static_cast<std::size_t>(f.width) + static_cast<std::size_t>(x)] = {
            .r = sum[0] / n, .g = sum[1] / n, .b = sum[2] / n};
      }
  });
  return means;
}

Ink drawn(const colour::SignalRgb<>& sdr) {
  const auto one = [](double signal) {
    const double light = colour::power_eotf(colour::Signal<>{.value = signal}, 2.4).value;
    return static_cast<std::uint16_t>(
        std::lround(65535 * std::clamp(colour::srgb_inverse_eotf(colour::Relative<>{.value = light}).value, 0.0, 1.0)));
  };
  return {one(sdr.r), one(sdr.g), one(sdr.b)};
}

}  // namespace provenit::programme::drawing
