#pragma once
// Every figure of a frame in plain, slow double precision, written from the documents for these tests alone: nothing of
// the kernel and none of the colour library's formulas.
#include <array>
#include <cstdint>
#include <vector>

#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme::testing {

struct ReferencePixel {
  std::array<double, 3> rgb{};  ///< linear light, cd/m2
  double max_rgb = 0, luminance = 0;
  double outside_bt709 = 0, outside_p3 = 0;  ///< least component there over max(R,G,B); outside if below -1e-6
  bool bar = false;
};

struct Reference {
  std::vector<ReferencePixel> pixels;  ///< row by row
  FrameFigures figures;                ///< percentiles by nearest rank of all pixels sorted
  std::vector<double> block_mean;      ///< cd/m2
  int block_columns = 0, block_rows = 0;
};

[[nodiscard]] Reference measure_reference(const Picture& picture);

/// Checks each figure of the record against the reference, as docs/survey.md states the meter's exactness.
void expect_agrees(const FrameRecord& record, const Reference& reference, const Picture& picture);

}  // namespace provenit::programme::testing
