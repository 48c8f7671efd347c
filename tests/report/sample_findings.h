#pragma once
#include <vector>

#include "provenit/store/records.h"

namespace provenit::report {

/// Ids from 1 in order. `readings` are those of the run that holds them, see sample.cpp.
[[nodiscard]] std::vector<store::FindingRecord> sample_findings();

/// Luminance that the invented display shows for a PQ signal E' (10 % window).
[[nodiscard]] double sample_luminance(double signal);
/// Luminance of the invented display's white window by area in per cent.
[[nodiscard]] double sample_window(double percent);
/// PQ EOTF (SMPTE ST 2084:2014), cd/m2.
[[nodiscard]] double sample_pq(double signal);

}  // namespace provenit::report
