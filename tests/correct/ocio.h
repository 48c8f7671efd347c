#pragma once
// Colours through OpenColorIO, unoptimised, tetrahedral where there is a choice.
#include <OpenColorIO/OpenColorIO.h>

#include <string>

#include "provenit/correct/lut.h"

namespace provenit::correct {

namespace ocio = OCIO_NAMESPACE;

inline ocio::ConstCPUProcessorRcPtr cpu_processor(const ocio::ConstTransformRcPtr& transform) {
  return ocio::Config::CreateRaw()->getProcessor(transform)->getOptimizedCPUProcessor(ocio::OPTIMIZATION_NONE);
}

inline ocio::ConstCPUProcessorRcPtr file_processor(const std::string& path) {
  const ocio::FileTransformRcPtr file = ocio::FileTransform::Create();
  file->setSrc(path.c_str());
  file->setInterpolation(ocio::INTERP_TETRAHEDRAL);
  return cpu_processor(file);
}

inline ocio::Lut3DTransformRcPtr ocio_lut(const Lut3d& table) {
  const ocio::Lut3DTransformRcPtr transform = ocio::Lut3DTransform::Create(table.size);
  transform->setInterpolation(ocio::INTERP_TETRAHEDRAL);
  for (int r = 0; r < table.size; ++r)
    for (int g = 0; g < table.size; ++g)
      for (int b = 0; b < table.size; ++b) {
        const Triple& v = table.node(r, g, b);
        transform->setValue(r, g, b, static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2]));
      }
  return transform;
}

inline Triple applied(const ocio::ConstCPUProcessorRcPtr& processor, const Triple& v) {
  float p[3] = {static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2])};
  processor->applyRGB(p);
  return {p[0], p[1], p[2]};
}

}  // namespace provenit::correct
