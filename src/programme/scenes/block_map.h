#pragma once
// Comparing pictures by their stored block maps: mean luminance of each block as PQ signal, and the blocks' areas.
#include <span>
#include <vector>

#include "provenit/programme/figures.h"

namespace provenit::programme::scenes {

/// What all frames of a title share: how the picture is cut into blocks, and its time step.
struct Grid {
  int columns = 0, rows = 0;
  double block = 0;               ///< side of a whole block, luma samples
  double width = 0, height = 0;   ///< of the picture
  std::vector<double> share;      ///< of the picture's area, block by block
  double frames_per_second = 24;  ///< by the frames' times; 24 where they tell nothing
  [[nodiscard]] std::size_t count() const { return share.size(); }
};
[[nodiscard]] Grid grid_of(std::span<const FrameRecord> frames, int width, int height);

/// Signal of block i, 0 to 1.
[[nodiscard]] inline double level(const FrameRecord& frame, std::size_t i) {
  return frame.blocks[i] / 65535.0;
}

/// How unlike two pictures are, in PQ signal: mean difference of the blocks x sqrt(1 - correlation of the maps), the
/// least of the shifts by up to one block that share enough, so that motion counts little and a mere change of light
/// less than a change of what is shown. 0 for equal maps.
[[nodiscard]] double dissimilarity(const FrameRecord& a, const FrameRecord& b, const Grid& grid);

/// Mean difference of the blocks, each in its place: motion and light count in full.
[[nodiscard]] double difference(const FrameRecord& a, const FrameRecord& b, const Grid& grid);

/// Mean level and its spread over the active picture of a frame; a frame that is all bar counts whole.
struct Levels {
  double mean = 0, spread = 0;
};
[[nodiscard]] Levels active_levels(const FrameRecord& frame, const Grid& grid);

/// Mean |level - of| over the picture.
[[nodiscard]] double distance_from(const FrameRecord& frame, double of, const Grid& grid);

}  // namespace provenit::programme::scenes
