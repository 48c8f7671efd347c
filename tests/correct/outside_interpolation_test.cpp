// Tetrahedral and straight-line interpolation against OpenColorIO 2.1.2 (BSD-3-Clause) and lcms2 2.14 (MIT), which
// compute in single precision. FFmpeg's is held against files (cube_test.cpp).
#include <OpenColorIO/OpenColorIO.h>
#include <gtest/gtest.h>
#include <lcms2.h>

#include "ocio.h"
#include "tables.h"

namespace provenit::correct {
namespace {

/// Rounding of a sum of four products of numbers up to 1 in single precision, and of the place in the cell, which is
/// carried on by the steepest step between two nodes (1): (size - 1) x 2^-24.
double single_precision(int size) {
  return 4 * 0x1p-23 + (size - 1) * 0x1p-23;
}

TEST(OutsideOcio, TetrahedralIsTheSame) {
  for (const int size : {2, 17, 33, 65}) {
    const Lut3d table = rough_3d(size, 11);
    const auto theirs = cpu_processor(ocio_lut(table));
    double worst = 0;
    for (const Triple& v : Draw(12).triples(20000, -0.02, 1.02))
      worst = std::max(worst, largest_difference(evaluate(table, v), applied(theirs, v)));
    EXPECT_LE(worst, single_precision(size)) << size;
    RecordProperty("tetrahedral_ocio_" + std::to_string(size), std::to_string(worst));
  }
}

TEST(OutsideOcio, CurvesAreTheSame) {
  for (const int size : {2, 1024, 4096}) {
    const Lut1d table = bent_1d(size);
    const ocio::Lut1DTransformRcPtr transform = ocio::Lut1DTransform::Create(size, false);
    transform->setInterpolation(ocio::INTERP_LINEAR);
    for (int i = 0; i < size; ++i)
      transform->setValue(i, static_cast<float>(table.channel[0][i]), static_cast<float>(table.channel[1][i]),
                          static_cast<float>(table.channel[2][i]));
    const auto theirs = cpu_processor(transform);
    double worst = 0;
    for (const Triple& v : Draw(13).triples(20000, -0.02, 1.02))
      worst = std::max(worst, largest_difference(evaluate(table, v), applied(theirs, v)));
    EXPECT_LE(worst, 5e-7) << size;
  }
}

TEST(OutsideLcms2, TetrahedralIsTheSame) {
  for (const int size : {2, 17, 33}) {
    const Lut3d table = rough_3d(size, 14);
    std::vector<cmsFloat32Number> nodes;
    for (const Triple& node : table.nodes)
      for (const double v : node) nodes.push_back(static_cast<float>(v));
    cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
    cmsPipelineInsertStage(pipeline, cmsAT_BEGIN, cmsStageAllocCLutFloat(nullptr, size, 3, 3, nodes.data()));
    double worst = 0;
    for (const Triple& v : Draw(15).triples(20000)) {
      const float in[3] = {static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2])};
      float out[3];
      cmsPipelineEvalFloat(in, out, pipeline);
      worst = std::max(worst, largest_difference(evaluate(table, v), {out[0], out[1], out[2]}));
    }
    cmsPipelineFree(pipeline);
    EXPECT_LE(worst, single_precision(size)) << size;
  }
}

}  // namespace
}  // namespace provenit::correct
