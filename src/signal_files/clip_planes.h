#pragma once
// Frames of R'G'B' codes as the planes of a clip.
#include <array>
#include <cstdint>
#include <vector>

#include "provenit/signal_files/clip.h"

namespace provenit::signal {

struct ClipPlanes {
  struct Plane {
    int width = 0, height = 0;
    std::vector<std::uint16_t> codes;  ///< row by row
    [[nodiscard]] std::uint16_t* row(int y) { return &codes[static_cast<std::size_t>(y) * width]; }
    [[nodiscard]] const std::uint16_t* row(int y) const { return &codes[static_cast<std::size_t>(y) * width]; }
  };
  std::array<Plane, 3> plane;  ///< Y', Cb, Cr; or R', G', B'
};

/// Y'CbCr codes from R'G'B' codes in whole numbers: the shares of luma have four decimals, so that sums and filters are
/// exact and ties are rounded as the documents say (half up), whatever the machine.
class YcbcrRounding {
 public:
  explicit YcbcrRounding(const Encoding& encoding);

  /// 10000 Y' and 10000 (B' - Y'), 10000 (R' - Y'), in code steps of R'G'B' above black.
  struct Sums {
    std::int64_t y, cb, cr;
  };
  [[nodiscard]] Sums sums_of(int r, int g, int b) const;
  /// Codes, held inside those that may carry video. weight: how many times too large the filtered sum is.
  [[nodiscard]] std::uint16_t luma(std::int64_t y) const;
  [[nodiscard]] std::uint16_t cb(std::int64_t sum, int weight) const { return chroma(sum, weight * cb_divisor_); }
  [[nodiscard]] std::uint16_t cr(std::int64_t sum, int weight) const { return chroma(sum, weight * cr_divisor_); }

 private:
  [[nodiscard]] std::uint16_t chroma(std::int64_t sum, std::int64_t divisor) const;

  int black_, chroma_zero_;
  colour::CodeLimits limits_;
  std::int64_t red_, green_, blue_;  ///< shares times 10000
  std::int64_t chroma_factor_, cb_divisor_, cr_divisor_;
};

/// Makes the planes of one frame after another.
class PlaneMaker {
 public:
  /// The source must be valid, its size even where the chroma is subsampled, and outlive the object.
  PlaneMaker(const FrameSource& source, ClipChroma chroma);
  /// Errors: those of checked_row.
  [[nodiscard]] Result<void> make(int frame);
  [[nodiscard]] const ClipPlanes& planes() const { return planes_; }

 private:
  /// A row's sums of Cb and Cr, filtered across: four times as large where they are subsampled.
  struct ChromaRow {
    std::vector<std::int64_t> cb, cr;
  };
  void take_rgb(int y, const std::vector<std::uint16_t>& row);
  void take_row(int y, const std::vector<std::uint16_t>& row);
  void filter_across(const std::vector<std::int64_t>& in, std::vector<std::int64_t>& out) const;
  void put_chroma_of(int y);
  void put_chroma(int y, const ChromaRow& above, const ChromaRow& here, const ChromaRow& below,
                  const std::array<int, 3>& weights);

  const FrameSource& source_;
  ClipChroma chroma_;
  YcbcrRounding rounding_;
  ClipSiting siting_;
  ClipPlanes planes_;
  std::vector<std::uint16_t> row_above_;
  std::vector<std::int64_t> cb_, cr_;   ///< of one row, each pixel's own
  std::array<ChromaRow, 3> chroma_of_;  ///< row y at y % 3
};

}  // namespace provenit::signal
