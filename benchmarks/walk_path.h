#pragma once
#include "provenit/evaluation/traces.h"
#include "provenit/simulated/trace.h"

namespace provenit::bench {

/// The simulated box's walk as evaluation takes it.
inline evaluation::WalkPath path_of(const simulated::BoxWalk& walk) {
  return {.frames = walk.frames(),
          .step = static_cast<double>(walk.step),
          .along = static_cast<double>(walk.along),
          .length = static_cast<double>(walk.length()),
          .frame_s = walk.frame_s};
}

}  // namespace provenit::bench
