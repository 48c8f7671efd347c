#include "provenit/forecast/drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace provenit::forecast {

programme::LightImage shown_image(const programme::LightImage& intended, const ShownLight& shown) {
  programme::LightImage out{.format = intended.format,
                            .width = intended.width,
                            .height = intended.height,
                            .index = intended.index,
                            .time_s = intended.time_s,
                            .signal = {},
                            .light = {},
                            .to_xyz = intended.to_xyz};
  const auto from_xyz = inverse(intended.to_xyz);
  out.light.resize(shown.x.size());
  for (std::size_t i = 0; i < shown.x.size(); ++i)
    for (int c = 0; c < 3; ++c)
      out.light[i][static_cast<std::size_t>(c)] = static_cast<float>(from_xyz(c, 0) * static_cast<double>(shown.x[i]) +
                                                                     from_xyz(c, 1) * static_cast<double>(shown.y[i]) +
                                                                     from_xyz(c, 2) * static_cast<double>(shown.z[i]));
  return out;
}

namespace {

std::uint16_t sample_of(double grey) {
  return static_cast<std::uint16_t>(std::lround(65535 * grey));
}

/// The greys from left to right in the lower left corner, with a light rim.
void add_key(programme::Drawing& d) {
  constexpr int kSide = 16, kRim = 1, kAway = 8;
  const int width = static_cast<int>(kDifferenceGreys.size()) * kSide;
  if (d.width < width + 2 * kAway || d.height < kSide + 2 * kAway) return;
  for (int y = -kRim; y < kSide + kRim; ++y)
    for (int x = -kRim; x < width + kRim; ++x) {
      const bool rim = x < 0 || y < 0 || x >= width || y >= kSide;
      const double grey = rim ? kDifferenceGreys[3] : kDifferenceGreys[static_cast<std::size_t>(x / kSide)];
      const auto at = 3 * (static_cast<std::size_t>(d.height - kAway - kSide + y) * static_cast<std::size_t>(d.width) +
                           static_cast<std::size_t>(kAway + x));
      std::fill_n(d.samples.begin() + static_cast<std::ptrdiff_t>(at), 3, sample_of(grey));
    }
}

std::string percent(const Figure& f) {
  return fmt::format("{:.1f} % ({:.1f} to {:.1f})", 100 * f.value, 100 * f.lower, 100 * f.upper);
}

}  // namespace

programme::Drawing difference_drawing(const ShownLight& shown, int most_width, int most_height) {
  const auto factor = [](int length, int most) { return (length + most - 1) / std::max(1, most); };
  const int reduce = std::max({1, factor(shown.width, most_width), factor(shown.height, most_height)});
  programme::Drawing out{
      .width = (shown.width + reduce - 1) / reduce, .height = (shown.height + reduce - 1) / reduce, .samples = {}};
  out.samples.reserve(3 * static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height));
  for (int y = 0; y < out.height; ++y)
    for (int x = 0; x < out.width; ++x) {
      double sum = 0;
      int count = 0;
      for (int v = y * reduce; v < std::min((y + 1) * reduce, shown.height); ++v)
        for (int u = x * reduce; u < std::min((x + 1) * reduce, shown.width); ++u, ++count)
          sum += static_cast<double>(shown.delta_e[static_cast<std::size_t>(v) * static_cast<std::size_t>(shown.width) +
                                                   static_cast<std::size_t>(u)]);
      const auto step = std::ranges::upper_bound(kDifferenceSteps, sum / count) - kDifferenceSteps.begin();
      const double grey = kDifferenceGreys[static_cast<std::size_t>(step)];
      out.samples.insert(out.samples.end(), 3, sample_of(grey));
    }
  return out;
}

programme::SheetEntry intended_entry(const programme::LightImage& intended, double source_peak_cdm2) {
  return {
      .preview = programme::sheet_preview(intended, source_peak_cdm2),
      .lines = {"As it is meant", fmt::format("frame {}, {}", intended.index, programme::time_text(intended.time_s))}};
}

std::array<programme::SheetEntry, 2> sheet_entries(const std::string& display, const programme::LightImage& intended,
                                                   const ShownLight& shown, const FrameForecast& forecast,
                                                   double source_peak_cdm2) {
  auto difference = difference_drawing(shown, programme::kPreviewWidth, programme::kPreviewHeight);
  add_key(difference);
  const auto& mean = of(forecast.figures, Quantity::mean_delta_e);
  return {
      programme::SheetEntry{
          .preview = programme::sheet_preview(shown_image(intended, shown), source_peak_cdm2),
          .lines = {"On " + display, "above 1: " + percent(of(forecast.figures, Quantity::share_above_1))}},
      programme::SheetEntry{
          .preview = std::move(difference),
          .lines = {fmt::format("Mean {:.2f} ({:.2f} to {:.2f})", mean.value, mean.lower, mean.upper),
                    fmt::format("greys: below {:g}, from {:g}, {:g}, {:g}, {:g}", kDifferenceSteps[0],
                                kDifferenceSteps[0], kDifferenceSteps[1], kDifferenceSteps[2], kDifferenceSteps[3])}}};
}

}  // namespace provenit::forecast
