#pragma once
// Zones along a walk from a few single steps of the light, for a sensor at one place that sees the zones near it only.
#include <span>
#include <vector>

#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// Frames of the walk at which the box's leading edge enters a zone, by the steps that stand out of the noise, rising.
/// A step down belongs to the zone that the box leaves, a box's length later.
[[nodiscard]] std::vector<double> zone_entries(std::span<const double> light, const WalkPath& path);

/// Log likelihood of each number of zones from 0 to `most` (of 0: minus infinity). Empty where fewer than four entries,
/// or none of the numbers, explain what is seen.
[[nodiscard]] std::vector<double> likelihood_of_entries(std::span<const double> entries, const WalkPath& path,
                                                        int most);

}  // namespace provenit::evaluation
