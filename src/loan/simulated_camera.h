#pragma once
// What a camera before the simulated display would bring.
#include <cstdint>
#include <optional>
#include <vector>

#include "provenit/loan/devices.h"
#include "provenit/simulated/physics.h"

namespace provenit::loan {

/// A clip (FFV1 in Matroska) of the step's walk; nullopt if this machine cannot write one. The physics must have zones.
[[nodiscard]] std::optional<RecordedFile> filmed_walk(const simulated::DisplayPhysics& physics,
                                                      const procedure::RecordStep& step, std::uint64_t seed);
/// The three pictures of `field_picture`, linear PNG of 16 bits.
[[nodiscard]] std::optional<std::vector<RecordedFile>> pictured_field(const simulated::DisplayPhysics& physics,
                                                                      const signal::Encoding& encoding,
                                                                      std::uint64_t seed);

}  // namespace provenit::loan
