#pragma once
// White balance of the loan's display with its own controls: somebody, or the simulated display itself, sets them, the
// instrument reads, correct/white_balance.h says what comes next. Every reading is kept, as a run of `balance`.
#include <optional>
#include <string>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/correct/white_balance.h"
#include "provenit/loan/devices.h"
#include "provenit/procedure/runner.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

struct BalanceRequest {
  /// Empty: those of the simulated display, or of the run that is gone on with.
  std::vector<correct::Control> controls;
  correct::ControlSettings start;      ///< one per control
  std::vector<double> levels_percent;  ///< of the signal; empty: a dark and a bright grey
  colour::Xy<> white = colour::d65_video;
  bool luminance = false;  ///< it counts, against the EOTF of the display's encoding at its nominal peak
  correct::BalanceTolerance tolerance;
  double window_percent = 10;
  double settle_s = 2;
  int most_settings = 60, most_repeats = 4;
  bool again = false;  ///< ends an open run of `balance` as aborted, and begins a new one
};

struct BalanceHooks {
  std::function<void(const procedure::Progress&)> progress;
  std::function<bool()> stop_requested;
};

struct BalanceResult {
  procedure::RunOutcome run;
  std::vector<correct::Control> controls;
  correct::ControlSettings start;  ///< as they really stood at the first reading
  std::vector<correct::BalanceLevel> levels;
  correct::BalanceTolerance tolerance;
  std::optional<correct::BalanceOutcome> outcome;  ///< not set: stopped or paused, to be gone on with
};

/// Runs until the white is within tolerance, the controls can do no more, or a stop is asked for; an open run of
/// `balance` of the loan is gone on with. Before controls are set, bright greys go to black.
/// Errors: invalid_input where no controls are known; conflict if the open run was begun otherwise, naming what
/// differs; those of next_balance_step and run_procedure.
[[nodiscard]] Result<BalanceResult> balance(store::Bench& bench, const store::LoanRecord& loan,
                                            const BalanceRequest& request, Devices& devices,
                                            const BalanceHooks& hooks = {});

/// How the newest run of `balance` stands, for a page that shows it to whoever turns the controls.
struct BalanceStanding {
  store::RunRecord run;
  correct::BalanceTask task;
  correct::ControlSettings now;  ///< as they were last set; task.start before the first reading
  /// What was read last at each level of the task; a level that has no reading since the controls were set is not set.
  struct Level {
    colour::AbsoluteXyz<> light;  ///< cd/m2
    int readings = 0;
    correct::LevelFigures figures;
  };
  std::vector<std::optional<Level>> levels;
  int visits = 0, readings = 0;
  correct::BalanceStep step;  ///< what comes next, or the outcome
};
/// nullopt if there is no such run. Errors: those of reading_basis, model_light and next_balance_step.
[[nodiscard]] Result<std::optional<BalanceStanding>> balance_standing(const store::Bench& bench,
                                                                      const store::LoanRecord& loan);

}  // namespace provenit::loan
