#include <algorithm>

#include "kernel/level.h"

namespace provenit::programme::kernel {
namespace {

bool all_equal(const Picture& picture, const Rect& rect) {
  const Samples first = samples_at(picture, rect.x, rect.y);
  for (int y = rect.y; y < rect.y + rect.height; ++y)
    for (int x = rect.x; x < rect.x + rect.width; ++x)
      if (samples_at(picture, x, y) != first) return false;
  return true;
}

void count(const Plan& plan, const colour::AbsoluteRgb<>& rgb, double luminance, std::uint32_t pixels, Tally& tally) {
  tally.histogram.add(saturated(luminance), pixels);
  for (std::size_t i = 0; i < kAboveCdm2.size(); ++i) tally.above[i] += luminance > kAboveCdm2[i] ? pixels : 0;
  for (std::size_t i = 0; i < kBelowCdm2.size(); ++i) tally.below[i] += luminance < kBelowCdm2[i] ? pixels : 0;
  if (plan.bt709.needed && plan.bt709.outside(rgb)) tally.outside_bt709 += pixels;
  if (plan.p3.needed && plan.p3.outside(rgb)) tally.outside_p3 += pixels;
}

void add_pixels(const colour::AbsoluteRgb<>& rgb, double luminance, double pixels, RectFigures& figures) {
  const double m = max_rgb(rgb);
  figures.r += pixels * rgb.r;
  figures.g += pixels * rgb.g;
  figures.b += pixels * rgb.b;
  figures.max_rgb += pixels * m;
  figures.max_rgb_max = std::max(figures.max_rgb_max, m);
  figures.luminance_max = std::max(figures.luminance_max, luminance);
  figures.luminance_min = std::min(figures.luminance_min, luminance);
}

RectFigures measure(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& /*unused*/) {
  RectFigures figures;
  figures.flat = all_equal(picture, rect);
  const Rect visited = figures.flat ? Rect{.x = rect.x, .y = rect.y, .width = 1, .height = 1} : rect;
  const auto pixels = static_cast<std::uint32_t>(figures.flat ? rect.pixels() : 1);
  for (int y = visited.y; y < visited.y + visited.height; ++y)
    for (int x = visited.x; x < visited.x + visited.width; ++x) {
      const auto rgb = plan.decoder.light(samples_at(picture, x, y));
      const double luminance = plan.decoder.xyz(rgb).Y;
      add_pixels(rgb, luminance, pixels, figures);
      count(plan, rgb, luminance, pixels, tally);
    }
  figures.square_bound = figures.max_rgb_max;
  return figures;
}

void evaluate(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch) {
  scratch.max_rgb.resize(rect.pixels());
  scratch.luminance.resize(rect.pixels());
  std::size_t i = 0;
  for (int y = rect.y; y < rect.y + rect.height; ++y)
    for (int x = rect.x; x < rect.x + rect.width; ++x, ++i) {
      const auto rgb = plan.decoder.light(samples_at(picture, x, y));
      scratch.max_rgb[i] = saturated(max_rgb(rgb));
      scratch.luminance[i] = saturated(plan.decoder.xyz(rgb).Y);
    }
}

}  // namespace

const Level& plain_level() {
  static constexpr Level level{.measure = measure, .evaluate = evaluate};
  return level;
}

}  // namespace provenit::programme::kernel
