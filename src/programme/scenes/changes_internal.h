#pragma once
// The three kinds of change, each found by its own file; changes.cpp puts them together.
#include "block_map.h"
#include "provenit/programme/scenes.h"

namespace provenit::programme::scenes {

/// Back to what was shown within this time: a flash, not two cuts.
inline constexpr double kReturnTime_s = 0.25;
/// Alike: dissimilarity under this part of the step.
inline constexpr double kAlike = 0.35;

[[nodiscard]] std::vector<SceneChange> find_cuts(std::span<const FrameRecord> frames, const Grid& grid);

/// A run of frames of one level, at most kLongestBlank_s long, with the gradual frames beside it.
struct Fade {
  SceneChange change;
  bool at_end = false;  ///< the title begins or ends with it: no change of scene
  std::size_t blank_first = 0, blank_last = 0;
};
/// Runs through a blank, gradual on at least one side (fade) or on neither (cut). `cuts` tells the sharp sides.
[[nodiscard]] std::vector<Fade> find_fades(std::span<const FrameRecord> frames, const Grid& grid,
                                           std::span<const SceneChange> cuts);

/// Dissolves outside the changes already found.
[[nodiscard]] std::vector<SceneChange> find_dissolves(std::span<const FrameRecord> frames, const Grid& grid,
                                                      std::span<const SceneChange> known);

}  // namespace provenit::programme::scenes
