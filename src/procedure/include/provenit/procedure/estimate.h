#pragma once
// What a run will show, and what it will cost in time. The procedure itself is played against an ideal display (the
// encoding's EOTF, clipped at Context::expected_peak_cdm2) and a clock that only adds up, so adaptive steps are counted
// as they would happen.
#include <span>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

struct Estimate {
  int readings = 0;
  Seconds total{0};    ///< moves of the meter, rest, settling, intervals and readings
  Seconds at_most{0};  ///< if the run is as long as its parameters allow; equal to total unless adaptive (warm-up)
};

/// Luminance an ideal display shows for the signal's patch (patch = the measured square): the encoding's EOTF by
/// component, each clipped at expected_peak_cdm2; cd/m2. No light where the signal is black.
[[nodiscard]] double ideal_luminance_cdm2(const signal::Signal& signal, double expected_peak_cdm2);

/// Time of one reading of this step, without rest and settling.
[[nodiscard]] Seconds reading_time(const Step& step, const instrument::Capabilities& capabilities);

/// A whole run with `repeats` readings of each step (parameters "repeats" and "max_repeats" are set to it).
/// Errors: those of Procedure::next; out_of_range for repeats < 1.
[[nodiscard]] Result<Estimate> estimate(const Procedure& procedure, const Context& context, int repeats);

/// What is left of a run after these readings, with the context's own parameters. `at_most` is that of the rest.
[[nodiscard]] Result<Estimate> estimate_rest(const Procedure& procedure, const Context& context,
                                             std::span<const store::ReadingRecord> readings);

struct NamedSignal {
  std::string step;
  signal::Signal signal;
  instrument::Placement placement;
  instrument::LocalDimming local_dimming = instrument::LocalDimming::as_found;
};

/// The signals that a run without optional repeats shows, each step once, in the order of their first use; adaptive
/// steps as they would be on an ideal display. Errors: those of Procedure::next.
[[nodiscard]] Result<std::vector<NamedSignal>> signals_of(const Procedure& procedure, const Context& context);

}  // namespace provenit::procedure
