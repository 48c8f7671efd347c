#pragma once
// A procedure: a measuring method with a fixed definition and version. It is a pure function from what has been read so
// far to what to do next, so a run that was killed resumes by asking again.
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/instrument/instrument.h"
#include "provenit/signal/signal.h"
#include "provenit/store/records.h"

namespace provenit::procedure {

/// What a procedure may know about the loan.
struct Context {
  signal::Encoding encoding;           ///< how the display is fed
  double expected_peak_cdm2 = 1000;    ///< claimed or found; only steers patch choice and time estimates
  double expected_black_cdm2 = 0.005;  ///< likewise, for time estimates only
  instrument::Capabilities capabilities;
  nlohmann::json parameters =
      nlohmann::json::object();  ///< of the run; see each procedure's page for keys and defaults
  bool optional_repeats = true;  ///< false: the stop rule or the budget has spoken, only what is required is still done
};

/// One thing to do: place the meter, set the display's controls, rest on black, show, let settle, read.
struct Step {
  std::string key;  ///< what evaluation looks for, e.g. "window_10"
  signal::Signal signal;
  instrument::Placement placement;  ///< where the meter looks, and at which angle
  instrument::LocalDimming local_dimming = instrument::LocalDimming::as_found;
  /// How the display's controls are to stand; empty: as they are.
  instrument::ControlSettings controls;
  Seconds rest{0};      ///< full-field black for this long before the signal, so that heat and limiter recover
  Seconds settle{2};    ///< wait after showing; not waited again while the same signal stays on
  Seconds interval{0};  ///< from the start of the last reading to the start of this one, at least (warm-up)
  Seconds stay{0};      ///< at least this long after the signal was shown, without a break (longer than settle)
  Seconds move = instrument::kUsualMove;  ///< what moving the meter to its placement takes, for the time estimate
  double expected_cdm2 = 0;               ///< for the time estimate
  bool optional_repeat = false;  ///< a further repeat of a step already read: the stop rule may end the run before it
  std::string why;               ///< for people: "window 10 %, repeat 2 of at most 6"
};

/// What evaluation says while the run goes on (see Runner): are the questions this run serves decided?
enum class Decided { no, yes };

class Procedure {
 public:
  virtual ~Procedure() = default;
  [[nodiscard]] virtual std::string id() const = 0;  ///< "window_peak"
  [[nodiscard]] virtual int version() const = 0;
  [[nodiscard]] virtual std::string title() const = 0;  ///< "Peak luminance by window area"
  [[nodiscard]] virtual std::vector<std::string> sources() const = 0;
  /// Keys of the quantities it answers, see catalogue.h.
  [[nodiscard]] virtual std::vector<std::string> quantities() const = 0;
  /// For people, before the run begins, beyond what holds for every run; empty if there is nothing to say.
  [[nodiscard]] virtual std::string caution() const { return {}; }
  /// Only an instrument that reads spectra can run it: readings of any other give no findings.
  [[nodiscard]] virtual bool needs_spectrum() const { return false; }
  /// False where the display itself decides what is read next: no ideal display tells how long that takes.
  [[nodiscard]] virtual bool foreseeable() const { return true; }
  /// Defaults for Context::parameters with every key it knows.
  [[nodiscard]] virtual nlohmann::json default_parameters() const = 0;
  /// The next step after these readings (of this run, in order), or nullopt when the run is complete.
  /// Deterministic; errors: invalid_input or out_of_range for parameters that cannot be used.
  [[nodiscard]] virtual Result<std::optional<Step>> next(const Context& context,
                                                         std::span<const store::ReadingRecord> readings) const = 0;
};

/// The parameters a run of this procedure uses: the defaults with those of the context laid over them.
/// Errors: invalid_input naming a key the procedure does not know or whose type differs from the default's.
[[nodiscard]] Result<nlohmann::json> merged_parameters(const Procedure& procedure, const Context& context);

/// Every procedure of this build, in the order they are best run: what needs a cool, rested display comes first.
[[nodiscard]] const std::vector<std::unique_ptr<Procedure>>& all_procedures();
/// nullptr if there is none of that id.
[[nodiscard]] const Procedure* find_procedure(const std::string& id);

}  // namespace provenit::procedure
