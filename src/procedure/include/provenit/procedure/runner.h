#pragma once
// Runs a procedure on a bench: shows, waits, reads, stores each reading before it goes on, and can be killed at any
// moment. Used from one thread; blocks until the run ends or pauses. Callbacks are called on that thread.
#include <functional>
#include <optional>
#include <span>
#include <string>

#include "provenit/base/clock.h"
#include "provenit/instrument/instrument.h"
#include "provenit/procedure/procedure.h"
#include "provenit/store/bench.h"

namespace provenit::procedure {

/// What a run works with. All are borrowed and must outlive the call.
struct Equipment {
  store::Bench& bench;
  instrument::Instrument& instrument;
  instrument::Presenter& presenter;
  Clock& clock;
};

/// Progress of a run, told before each wait and after each reading.
struct Progress {
  enum class Phase { resting, settling, reading, stored };
  Phase phase = Phase::settling;
  const Step* step = nullptr;  ///< valid during the callback
  std::string signal_text;     ///< what is on the display, in words
  int done = 0;                ///< readings of this run stored so far, those of earlier sittings included
  int expected_total = 0;      ///< readings the whole run is expected to take; 0: nobody can say
  Seconds left{0};             ///< expected time to the end of the run; 0 where nobody can say
  const store::ReadingRecord* last = nullptr;  ///< last reading stored, nullptr before the first
};
[[nodiscard]] const char* name_of(Progress::Phase phase);  ///< "resting", "settling", "reading", "stored"

/// What makes two runs the same measurement, of RunRecord::parameters. How often it is repeated does not, nor what was
/// expected of the display: a plan made anew after an interruption may say otherwise, and the run goes on as it was
/// begun.
[[nodiscard]] nlohmann::json identity_of(nlohmann::json stored);

struct RunOptions {
  std::string origin = "measured";  ///< RunRecord::origin of a new run
  std::optional<store::Id> resume;  ///< this run; otherwise an open run of this loan with the same procedure, version,
                                    ///< encoding and parameters (repeats apart) is resumed, or a new one begun
  int attempts = 3;                 ///< tries per step before the run pauses
  Seconds pause_between_attempts{1};  ///< on black
  double drift_limit_percent = 2;     ///< of the reference against the run's first: beyond it, an event
  std::optional<Seconds> budget;      ///< for this call; optional repeats end early so that the run can be closed
                                      ///< within it; a required step that does not fit ends the call (run open)
  std::function<void(const Progress&)> progress;
  std::function<bool()> stop_requested;  ///< asked at least every half second of waiting, and between readings
  std::function<Decided(std::span<const store::ReadingRecord>)> decided;  ///< stop rule, asked before each optional
                                                                          ///< repeat with the readings of this run
};

/// How the call ended. Only `complete` and `decided` finish the run; the others leave it open, to be resumed.
enum class Ending {
  complete,  ///< the procedure has no further step
  decided,   ///< the stop rule spoke; what is required was still read
  budget,    ///< no time for the next required step
  stopped,   ///< stop_requested
  paused     ///< a step failed `attempts` times; see RunOutcome::cause
};
[[nodiscard]] const char* name_of(Ending ending);  ///< "complete", "decided", "budget", "stopped", "paused"

struct RunOutcome {
  store::Id run = 0;
  Ending ending = Ending::complete;
  bool resumed = false;
  int readings = 0;            ///< of the whole run
  int taken = 0;               ///< in this call
  int events = 0;              ///< stored in this call
  Seconds spent{0};            ///< in this call
  std::optional<Error> cause;  ///< of a pause, saying which step failed and what to do
};

/// Runs `procedure` for the loan until it ends, see Ending. The display shows full-field black when it returns,
/// whatever happened. Context::capabilities are those of the instrument in use; Context::parameters may be partial
/// (defaults are filled in and stored). A resumed run uses the parameters and context stored with it. Each reading
/// carries context {settle_s, shown_s, attempt, placement} (and local_dimming, "on" or "off", and controls, as they
/// really stand, where the step asks for them; what is bright goes to black before they are set); placement is
/// instrument::to_json of where the meter was told to look. The presenter is asked to place the meter before the first
/// step and whenever the placement changes, from black if the step rests. Events: "time_out", "refused", "saturated",
/// "drift", "room_light" (black reads brighter than the same step did earlier in the run), "resumed", "paused",
/// "stopped", "budget", "decided", "display", and those of the instrument (InstrumentEvent::kind). An operator who
/// answers "stop" ends the call as Ending::stopped. A saturated or non-finite result is an event, never a reading: it
/// is tried again like a refused one. Errors (nothing more can be done; the run stays as it was): those of the bench,
/// of Procedure::next, and conflict if `resume` names a run of another procedure or version or one that is not open.
/// Failures of instrument and presenter are no errors of the call but an Ending::paused.
[[nodiscard]] Result<RunOutcome> run_procedure(const Equipment& equipment, store::Id loan, const Procedure& procedure,
                                               const Context& context, const RunOptions& options = {});

}  // namespace provenit::procedure
