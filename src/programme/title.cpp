#include "provenit/programme/title.h"

#include <algorithm>
#include <cmath>

namespace provenit::programme {
namespace {

std::int64_t area_of(const ActiveArea& a) {
  return static_cast<std::int64_t>(a.width) * a.height;
}

ActiveArea joined(const ActiveArea& a, const ActiveArea& b) {
  if (area_of(a) == 0) return b;
  if (area_of(b) == 0) return a;
  const auto left = std::min(a.left, b.left), top = std::min(a.top, b.top);
  const auto right = std::max(a.left + a.width, b.left + b.width);
  const auto bottom = std::max(a.top + a.height, b.top + b.height);
  return {.left = left, .top = top, .width = right - left, .height = bottom - top};
}

// Mean of max(R,G,B) inside `steady`. What lies between the frame's own area and the steady one is bar, and bars are
// taken to be even: each of their pixels has the mean light of all bar pixels of the frame.
double mean_inside(const FrameLight& f, const ActiveArea& steady, int width, int height) {
  const auto all = static_cast<double>(static_cast<std::int64_t>(width) * height);
  const auto own = static_cast<double>(area_of(f.active));
  const auto used = static_cast<double>(area_of(joined(steady, f.active)));
  if (used == 0 || own == 0) return f.max_rgb_mean;
  if (used == own) return f.max_rgb_mean_active;
  const double inside = f.max_rgb_mean_active * own;
  const double bar = (f.max_rgb_mean * all - inside) / (all - own);
  return (inside + (used - own) * bar) / used;
}

std::array<double, kPercentiles.size()> percentiles(std::vector<double> values) {
  std::array<double, kPercentiles.size()> out{};
  if (values.empty()) return out;
  std::sort(values.begin(), values.end());
  for (std::size_t i = 0; i < out.size(); ++i) {
    const double rank = std::ceil(kPercentiles[i] / 100 * static_cast<double>(values.size()));
    out[i] = values[static_cast<std::size_t>(std::max(rank, 1.0)) - 1];
  }
  return out;
}

void raise(AtFrame& best, double cdm2, const FrameLight& f, bool first) {
  if (first || cdm2 > best.cdm2) best = {.cdm2 = cdm2, .index = f.index, .time_s = f.time_s};
}

}  // namespace

double temporal_difference(const FrameRecord& before, const FrameRecord& frame) {
  if (before.block_columns != frame.block_columns || before.block_rows != frame.block_rows) return 0;
  const auto count = static_cast<std::size_t>(frame.block_columns) * static_cast<std::size_t>(frame.block_rows);
  if (count == 0) return 0;
  std::int64_t sum = 0;
  for (std::size_t i = 0; i < count; ++i) sum += std::abs(int{frame.blocks[i]} - int{before.blocks[i]});
  return static_cast<double>(sum) / (65535.0 * static_cast<double>(count));
}

FrameLight light_of(const FrameFigures& f) {
  return {.index = f.index,
          .time_s = f.time_s,
          .max_rgb_max = f.max_rgb_max,
          .max_rgb_robust = f.max_rgb_robust,
          .max_rgb_mean = f.max_rgb_mean,
          .max_rgb_mean_active = f.max_rgb_mean_active,
          .luminance_mean = f.luminance_mean,
          .luminance_99_9 = f.luminance_percentile[5],
          .active = f.active};
}

TitleFigures title_figures(std::span<const FrameLight> frames, int width, int height) {
  TitleFigures t;
  t.frames = static_cast<std::int64_t>(frames.size());
  if (frames.empty()) return t;
  const auto areas = steady_areas(frames, width, height);
  std::vector<double> peaks, highs, means;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    const FrameLight& f = frames[i];
    const double mean = mean_inside(f, areas[i], width, height);
    raise(t.maxcll, f.max_rgb_max, f, i == 0);
    raise(t.maxcll_robust, f.max_rgb_robust, f, i == 0);
    raise(t.maxfall_active, mean, f, i == 0);
    raise(t.maxfall_full, f.max_rgb_mean, f, i == 0);
    raise(t.mean_luminance_full, f.luminance_mean, f, i == 0);
    t.mean_of_means += f.max_rgb_mean / static_cast<double>(frames.size());
    peaks.push_back(f.max_rgb_max);
    highs.push_back(f.luminance_99_9);
    means.push_back(mean);
  }
  t.peak_percentile = percentiles(std::move(peaks));
  t.high_percentile = percentiles(std::move(highs));
  t.mean_percentile = percentiles(std::move(means));
  return t;
}

int declared_whole_cdm2(double cdm2) {
  return static_cast<int>(std::clamp(std::floor(cdm2 + 0.5), 0.0, 65535.0));
}

}  // namespace provenit::programme
