#pragma once
// Decode, measure, keep: three steps that overlap.
#include <functional>

#include "provenit/programme/frame_meter.h"
#include "provenit/programme/reader.h"

namespace provenit::programme::detail {

struct Flow {
  std::function<Result<std::optional<Picture>>()> next;  ///< from one thread at a time
  std::function<Result<bool>(FrameRecord&)> keep;        ///< in order, from one thread at a time; false stops
};

/// Runs until `next` has no more, `keep` says false or either fails. At most `threads` frames are measured at once, and
/// no more pictures are held than fit in about 48 MB (two at least).
[[nodiscard]] Result<void> run_pipeline(const FrameMeter& meter, int threads, const Flow& flow);

}  // namespace provenit::programme::detail
