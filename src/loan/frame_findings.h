#pragma once
// What captured frames give, before it is bound to a loan.
#include <string>
#include <vector>

#include "provenit/evaluation/captures.h"
#include "provenit/signal/test_picture.h"

namespace provenit::loan {

struct FrameFinding {
  const char* quantity;
  nlohmann::json conditions = nlohmann::json::object();
  evaluation::Figure figure;
  nlohmann::json parts = nlohmann::json::object();
  std::vector<nlohmann::json> series{};
};
struct FrameFindings {
  std::vector<FrameFinding> findings;
  std::vector<std::string> notes;  ///< what the frame does not give, and why
};

/// Findings of one captured frame of the picture, for this recording. Errors: those of its evaluation; unsupported for
/// a recording that is of no frame.
[[nodiscard]] Result<FrameFindings> frame_findings(const std::string& recording, const evaluation::CapturedFrame& frame,
                                                   const signal::TestPicture& picture);

}  // namespace provenit::loan
