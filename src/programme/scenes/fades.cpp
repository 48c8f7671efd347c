// Changes through frames of one level: fade out, blank, fade in, and their mixtures with cuts.
#include <algorithm>
#include <cmath>

#include "changes_internal.h"

namespace provenit::programme::scenes {
namespace {

constexpr double kBlankSpread = 0.004;  // PQ signal, of the blocks inside the active picture
constexpr double kSameLevel = 0.03;     // from one frame of a blank run to the next: the tail of a fade is blank, too
constexpr double kLongestBlank_s = 2;   // a longer one is a scene
constexpr double kLongestFade_s = 4;    // of each side
constexpr int kFewestSteps = 4;         // of a gradual side
constexpr double kSmallestFade = 0.02;  // PQ signal from picture to blank
constexpr double kLargestStep = 0.6;    // of the whole way in one frame: more is a cut

struct Run {
  std::size_t first, last;
  double first_level, last_level;
};

std::vector<Run> blank_runs(std::span<const FrameRecord> frames, const Grid& grid) {
  std::vector<Run> runs;
  for (std::size_t t = 0; t < frames.size(); ++t) {
    const Levels l = active_levels(frames[t], grid);
    if (l.spread >= kBlankSpread) continue;
    if (!runs.empty() && runs.back().last + 1 == t && std::abs(runs.back().last_level - l.mean) < kSameLevel)
      runs.back().last = t, runs.back().last_level = l.mean;
    else
      runs.push_back({.first = t, .last = t, .first_level = l.mean, .last_level = l.mean});
  }
  return runs;
}

/// Frames over which the picture goes steadily away from the blank's level, walking from it in `direction`; 0 if it
/// does not, or jumps.
std::size_t gradual(std::span<const FrameRecord> frames, const Grid& grid, const Run& run, int direction) {
  const auto longest = static_cast<std::size_t>(kLongestFade_s * grid.frames_per_second);
  auto at = static_cast<std::ptrdiff_t>(direction < 0 ? run.first : run.last);
  const double level = direction < 0 ? run.first_level : run.last_level;
  double before = distance_from(frames[static_cast<std::size_t>(at)], level, grid), largest = 0;
  const double base = before;
  std::size_t steps = 0;
  while (steps < longest) {
    const auto next = at + direction;
    if (next < 0 || next >= std::ssize(frames)) break;
    const double d = distance_from(frames[static_cast<std::size_t>(next)], level, grid);
    // A last small step belongs to the scene's own motion.
    if (d <= before || (steps >= kFewestSteps && d - before < 0.1 * (before - base) / static_cast<double>(steps)))
      break;
    largest = std::max(largest, d - before);
    before = d, at = next, ++steps;
  }
  const double way = before - base;
  return steps >= kFewestSteps && way >= kSmallestFade && largest < kLargestStep * way ? steps : 0;
}

bool sharp_at(std::span<const SceneChange> cuts, std::size_t t) {
  return std::ranges::any_of(cuts, [t](const SceneChange& c) { return c.start == t; });
}

}  // namespace

std::vector<Fade> find_fades(std::span<const FrameRecord> frames, const Grid& grid, std::span<const SceneChange> cuts) {
  std::vector<Fade> fades;
  const auto runs = blank_runs(frames, grid);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const Run& run = runs[i];
    const bool begins = run.first == 0, ends = run.last + 1 == frames.size();
    if (begins && ends) continue;
    const double blank_s = static_cast<double>(run.last - run.first + 1) / grid.frames_per_second;
    // Fields of one level, one after the other, are a title's own pictures; a lone one is a step of the fade.
    const auto field = [](const Run& r) { return r.last - r.first >= 2; };
    const bool beside = (i > 0 && runs[i - 1].last + 1 == run.first && field(runs[i - 1])) ||
                        (i + 1 < runs.size() && runs[i + 1].first == run.last + 1 && field(runs[i + 1]));
    if (blank_s > kLongestBlank_s || beside) continue;
    const std::size_t down = gradual(frames, grid, run, -1), up = gradual(frames, grid, run, +1);
    const bool left = begins || down > 0 || sharp_at(cuts, run.first);
    const bool right = ends || up > 0 || sharp_at(cuts, run.last + 1);
    if (!left || !right) continue;
    const std::size_t first = run.first - down, last = run.last + up;
    const double strength =
        dissimilarity(frames[first > 0 ? first - 1 : 0], frames[std::min(last + 1, frames.size() - 1)], grid);
    const bool fade = down > 0 || up > 0;
    fades.push_back({.change = {.kind = fade ? ChangeKind::fade : ChangeKind::cut,
                                .first = fade ? first : run.last + 1,
                                .last = fade ? last : run.last + 1,
                                .start = run.last + 1,
                                .strength = strength},
                     .at_end = begins || ends,
                     .blank_first = run.first,
                     .blank_last = run.last});
  }
  return fades;
}

}  // namespace provenit::programme::scenes
