// Hard cuts: a step that stands out from the steps around it, and stays.
#include <algorithm>
#include <cmath>

#include "changes_internal.h"

namespace provenit::programme::scenes {
namespace {

constexpr std::size_t kNeighbours = 12;  // frames on either side that say what is usual here
constexpr double kSmallest = 0.012;      // of a cut, PQ signal: between dark pictures they can be this small
constexpr double kAboveUsual = 3.0;      // times the median of the neighbours
constexpr std::size_t kApart = 2;        // frames; the largest step within them is the cut

double median_around(std::span<const double> steps, std::size_t t) {
  const std::size_t first = t > kNeighbours ? t - kNeighbours : 1, last = std::min(t + kNeighbours, steps.size() - 1);
  std::vector<double> around;
  for (std::size_t i = first; i <= last; ++i)
    if (i != t) around.push_back(steps[i]);
  if (around.empty()) return 0;
  const auto middle = around.begin() + static_cast<std::ptrdiff_t>(around.size() / 2);
  std::ranges::nth_element(around, middle);
  return *middle;
}

bool largest_around(std::span<const double> steps, std::size_t t) {
  const std::size_t first = t > kApart ? t - kApart : 1, last = std::min(t + kApart, steps.size() - 1);
  for (std::size_t i = first; i <= last; ++i)
    if (steps[i] > steps[t] || (steps[i] == steps[t] && i < t)) return false;
  return true;
}

/// Whether b shows what a shows, measured by the step in between that left it.
bool alike(const FrameRecord& a, const FrameRecord& b, const FrameRecord& between, const Grid& grid) {
  return difference(a, b, grid) < kAlike * difference(a, between, grid) ||
         dissimilarity(a, b, grid) < kAlike * dissimilarity(a, between, grid);
}

/// Whether, within the return time, the picture is again what it was before the step (or this step leads back).
bool returns(std::span<const FrameRecord> frames, const Grid& grid, std::size_t t) {
  const auto reach =
      std::max<std::size_t>(3, static_cast<std::size_t>(std::lround(kReturnTime_s * grid.frames_per_second)));
  for (std::size_t k = 1; k <= reach; ++k) {
    if (t + k < frames.size() && alike(frames[t - 1], frames[t + k], frames[t], grid)) return true;
    if (t >= k + 1 && alike(frames[t], frames[t - 1 - k], frames[t - 1], grid)) return true;
  }
  return false;
}

}  // namespace

std::vector<SceneChange> find_cuts(std::span<const FrameRecord> frames, const Grid& grid) {
  std::vector<double> steps(frames.size(), 0.0);
  for (std::size_t t = 1; t < frames.size(); ++t) steps[t] = dissimilarity(frames[t - 1], frames[t], grid);
  std::vector<SceneChange> cuts;
  for (std::size_t t = 1; t < frames.size(); ++t) {
    if (steps[t] < kSmallest || !largest_around(steps, t) || steps[t] < kAboveUsual * median_around(steps, t)) continue;
    if (returns(frames, grid, t)) continue;
    cuts.push_back({.kind = ChangeKind::cut, .first = t, .last = t, .start = t, .strength = steps[t]});
  }
  return cuts;
}

}  // namespace provenit::programme::scenes
