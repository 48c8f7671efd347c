// What frames and scenes ask of a display.
#include <algorithm>
#include <cmath>

#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/scenes.h"

namespace provenit::programme {
namespace {

constexpr std::size_t kMedian = 2;  // of kPercentiles
static_assert(kPercentiles[kMedian] == 50);

FrameDemands demands_of(const FrameRecord& frame, double peak_cdm2) {
  const auto& f = frame.figures;
  const double dark = std::max(f.luminance_percentile[kMedian], 0.005);
  const double stops = std::max(0.0, std::log2(std::max(f.max_rgb_robust, 0.005) / dark));
  return {.limiter = f.max_rgb_mean,
          .zones = f.dark_beside_bright * stops,
          .near_black = f.near_black_detail,
          .beyond_p3 = f.share_outside_p3,
          .highlights = highlight_detail(frame, peak_cdm2).detail(),
          .flashes = 0,
          .changes = f.temporal_difference};
}

/// Every number of `a` with that of `b`.
template <class F>
FrameDemands combined(const FrameDemands& a, const FrameDemands& b, F f) {
  return {.limiter = f(a.limiter, b.limiter),
          .zones = f(a.zones, b.zones),
          .near_black = f(a.near_black, b.near_black),
          .beyond_p3 = f(a.beyond_p3, b.beyond_p3),
          .highlights = f(a.highlights, b.highlights),
          .flashes = f(a.flashes, b.flashes),
          .changes = f(a.changes, b.changes)};
}

void fill(Scene& scene, std::span<const FrameRecord> frames, const SceneList& list) {
  FrameDemands sum;
  for (std::size_t t = scene.first; t <= scene.last; ++t) {
    const auto larger = [](double x, double y) { return std::max(x, y); };
    scene.largest = combined(scene.largest, list.demands[t], larger);
    sum = combined(sum, list.demands[t], std::plus<>());
    scene.maximum_cdm2 = std::max(scene.maximum_cdm2, frames[t].figures.max_rgb_robust);
    for (std::size_t p = 0; p < kHighlightPeaks.size(); ++p) {
      const auto detail = highlight_detail(frames[t], kHighlightPeaks[p]);
      if (detail.detail() > scene.above[p].detail() ||
          (scene.above[p].detail() == 0 && detail.share > scene.above[p].share))
        scene.above[p] = detail;
    }
  }
  const double n = static_cast<double>(scene.last - scene.first + 1);
  scene.mean = combined(sum, sum, [n](double x, double) { return x / n; });
  scene.full_field_largest_cdm2 = scene.largest.limiter;
  scene.full_field_mean_cdm2 = scene.mean.limiter;
  scene.flashing = std::ranges::any_of(
      list.cautions, [&](const FlashCaution& c) { return c.first <= scene.last && c.last >= scene.first; });
}

}  // namespace

HighlightDetail highlight_detail(const FrameRecord& frame, double peak_cdm2) {
  const double edge = kLightBins * colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = peak_cdm2}).value;
  double all = 0, above = 0, weighted = 0;
  for (int i = 0; i < kLightBins; ++i) {
    const double pixels = frame.light[static_cast<std::size_t>(i)];
    const double part = pixels * std::clamp(i + 1 - edge, 0.0, 1.0);
    all += pixels, above += part;
    if (part > 0) weighted += part * std::log2(part);
  }
  if (!(above > 0)) return {};
  return {.share = above / all, .bits = std::max(0.0, std::log2(above) - weighted / above)};
}

SceneList find_scenes(std::span<const FrameRecord> frames, int width, int height, double peak_cdm2) {
  SceneList list;
  list.peak_cdm2 = peak_cdm2;
  if (frames.empty()) return list;
  list.changes = scene_changes(frames, width, height);
  list.cautions = flash_cautions(frames, width, height);
  for (const auto& frame : frames) list.demands.push_back(demands_of(frame, peak_cdm2));
  for (const auto& c : list.cautions)
    for (std::size_t t = c.first; t <= c.last; ++t)
      list.demands[t].flashes = std::max(list.demands[t].flashes, c.flashes * c.area);
  Scene scene;
  for (const auto& change : list.changes) {
    scene.last = change.start - 1;
    list.scenes.push_back(scene);
    scene = {.first = change.start, .opened_by = change.kind};
  }
  scene.last = frames.size() - 1;
  list.scenes.push_back(scene);
  for (auto& s : list.scenes) fill(s, frames, list);
  return list;
}

}  // namespace provenit::programme
