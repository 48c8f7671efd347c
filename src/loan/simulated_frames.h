#pragma once
// What a frame grabber behind the simulated display's processing would bring.
#include <optional>
#include <vector>

#include "provenit/loan/devices.h"
#include "provenit/simulated/physics.h"

namespace provenit::loan {

/// The captured frame of this recording's picture, 16-bit PNG, exact (a digital capture has no noise). nullopt for a
/// recording that is of no frame.
[[nodiscard]] std::optional<std::vector<RecordedFile>> simulated_frame(const simulated::DisplayPhysics& physics,
                                                                       const signal::Encoding& encoding,
                                                                       const procedure::Recording& recording);

}  // namespace provenit::loan
