#pragma once
// Flicker index of light that is no wave of a few sines.
#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// Index of pulses: area above the mean over the whole area, of the period as straight lines between the samples in
/// order of phase; parts of the period would blur edges. An edge lies anywhere between the last sample before it and
/// the first beyond it; edges that are seen at different times of the trace move against each other if the frequency is
/// wrong. in  `u_hz`: standard uncertainty of the frequency against the recorder's clock; `noise`: standard deviation
/// of a sample, independent from one to the next
[[nodiscard]] Figure pulse_index(const Samples& light, double dark, double hz, double u_hz, double noise);

}  // namespace provenit::evaluation
