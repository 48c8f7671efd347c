#pragma once
// What an instruction set must offer: the figures of a rectangle, and its light pixel by pixel.
#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "kernel/cells.h"
#include "kernel/histogram.h"
#include "kernel/plan.h"
#include "kernel/sampling.h"

namespace provenit::programme::kernel {

/// Exact light of pixels met before, by their samples. Direct mapped: a clash costs time, nothing else.
class ExactCache {
 public:
  struct Light {
    double max_rgb = 0, luminance = 0;
  };
  void clear();
  /// The same numbers as pixel_at gives.
  [[nodiscard]] Light at(const Plan& plan, const Picture& picture, int x, int y);

 private:
  struct Entry {
    bool used = false;
    Samples samples;
    Light light;
  };
  std::array<Entry, 1024> entries_;
};

/// Counts over the whole frame.
struct Tally {
  Histogram histogram;
  std::array<std::int64_t, kAboveCdm2.size()> above{};
  std::array<std::int64_t, kBelowCdm2.size()> below{};
  std::int64_t outside_bt709 = 0, outside_p3 = 0;
  void clear();
};

/// Floats that vectors may be loaded from at the first. Never shrinks.
class AlignedFloats {
 public:
  /// At least `count` floats; what was in them may be lost.
  [[nodiscard]] float* reserve(std::size_t count);

 private:
  static constexpr std::size_t kFloatsPerLine = 16;
  std::vector<float> floats_;
};

/// Working memory of one thread, kept from frame to frame.
struct Scratch {
  Tally tally, discarded;
  ExactCache exact;
  std::vector<RectFigures> cells;
  AlignedFloats rows, tile;               ///< of the vector code
  std::vector<float> max_rgb, luminance;  ///< what evaluate gives, rect.width x rect.height
};
[[nodiscard]] Scratch& thread_scratch();

struct Level {
  /// Figures of the rectangle, and its counts added to the tally. The rectangle is not larger than a cell.
  RectFigures (*measure)(const Plan&, const Picture&, const Rect&, Tally&, Scratch&) = nullptr;
  /// Fills max_rgb and luminance of the scratch, row by row. The rectangle may be a pixel larger than a cell all round.
  void (*evaluate)(const Plan&, const Picture&, const Rect&, Scratch&) = nullptr;
};

/// In plain double precision: for formats that the vector code does not take.
[[nodiscard]] const Level& plain_level();

/// Instruction sets of this build that this machine runs, best first; the vector code of one of them.
[[nodiscard]] std::vector<std::string> vector_level_names();
[[nodiscard]] Level vector_level(const std::string& name);

}  // namespace provenit::programme::kernel
