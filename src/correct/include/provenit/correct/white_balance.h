#pragma once
// White balance with the display's own controls, as somebody turns them: what has been read so far -> what to set and
// read next, until the white is within tolerance at every level or the controls can do no more. Pure: no I/O, no clock,
// and nothing kept between calls, so a sitting that was broken off goes on by asking again. docs/correction.md.
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/statistics.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::correct {

/// One control of the display, as its menu has it. What it does is found by turning it; the name is for people.
struct Control {
  std::string name;
  double lowest = 0, highest = 100;
  double step = 1;  ///< smallest change that the menu allows; settings proposed are lowest + whole steps
  friend bool operator==(const Control&, const Control&) = default;
};
using ControlSettings = std::vector<double>;  ///< one value per control, in the order of the controls

/// A grey that is read, and what it ought to be.
struct BalanceLevel {
  std::string name;                      ///< "20 %"
  colour::Xy<> white;                    ///< CIE 1931
  std::optional<double> luminance_cdm2;  ///< not set: luminance is left free
};

struct BalanceTolerance {
  double uv = 0.002;                 ///< Delta u'v', used unless `itp` is set
  double luminance_relative = 0.05;  ///< of levels that have a luminance, unless `itp` is set
  std::optional<double> itp;         ///< Delta E ITP (BT.2124); every level must have a luminance
};

inline constexpr std::size_t kMostControls = 64, kMostLevels = 32;

struct BalanceTask {
  std::vector<Control> controls;
  ControlSettings start;  ///< how they stand before the first reading
  std::vector<BalanceLevel> levels;
  BalanceTolerance tolerance;
  int most_settings = 60;  ///< settings tried before it ends with the best of them
  int most_repeats = 4;    ///< readings of one level at one setting
};

/// Why a setting was tried: to learn what a control does, or because it promises the least error.
enum class BalanceMove { start, probe, proposal, back };
[[nodiscard]] const char* name_of(BalanceMove move);  ///< "start", "probe", "proposal", "back"

/// One setting and what was read there, in the order of time. A setting that one comes back to is a new visit.
struct BalanceVisit {
  ControlSettings settings;  ///< as they really were set, on or off the steps
  BalanceMove move = BalanceMove::start;
  struct Level {
    colour::AbsoluteXyz<colour::Uncertain> light;  ///< mean of the readings
    int readings = 0;                              ///< 0: not read yet
  };
  std::vector<Level> levels;  ///< one per level of the task
};

// What was found -----------------------------------------------------------------------------------------------------

/// A deviation from the target that cannot be negative, with its 95 % interval; and that interval if the instrument's
/// errors common to all readings did not exist, which is what repeats could bring it down to.
struct BalanceFigure {
  double value = 0;
  colour::Interval interval, by_noise;
};

struct LevelFigures {
  bool has_light = false;                                  ///< false: no chromaticity, the figures below are infinite
  BalanceFigure uv;                                        ///< Delta u'v'
  std::optional<BalanceFigure> luminance;                  ///< |Y / target - 1|
  std::optional<BalanceFigure> itp;                        ///< Delta E ITP
  double ratio = std::numeric_limits<double>::infinity();  ///< largest of value / tolerance
  double upper_ratio = ratio;           ///< the same of the intervals' upper ends: within tolerance if <= 1
  double lower_ratio = ratio;           ///< of the lower ends: out of tolerance if > 1
  double upper_ratio_by_noise = ratio;  ///< of by_noise: if this is <= 1, more readings of a better instrument decide
};

enum class BalanceVerdict {
  within,     ///< every level is within tolerance, its whole interval
  undecided,  ///< the interval of a level reaches over the tolerance, and neither settings nor repeats change that
  out         ///< a level is out of tolerance, its whole interval, and no setting of the controls promises better
};
[[nodiscard]] const char* name_of(BalanceVerdict verdict);  ///< "within", "undecided", "out"

/// What stands in the way of a smaller error.
enum class BalanceLimit {
  at_end,      ///< the control would have to go beyond its end
  step,        ///< one step of the control is too coarse
  no_control,  ///< no control, or no combination of them, moves this level's light that way
  noise,       ///< the scatter of the readings
  instrument,  ///< what the instrument's certificate leaves open: repeats do not help
  settings     ///< most_settings were tried
};
[[nodiscard]] const char* name_of(BalanceLimit limit);  ///< "at_end", "step", ...

struct BalanceReason {
  BalanceLimit limit = BalanceLimit::settings;
  std::string name;  ///< of the control, or of the level for no_control, noise and instrument
  std::string text;  ///< for people
};

struct ControlEffect {
  bool acts = false;  ///< anything that could be told from noise, anywhere
  /// Change that one step makes now, for each level: of u', v' and relative luminance, by the model of the readings.
  struct Level {
    double du = 0, dv = 0, luminance_relative = 0;
  };
  std::vector<Level> levels;
};

struct BalanceOutcome {
  BalanceVerdict verdict = BalanceVerdict::undecided;
  ControlSettings settings;  ///< to leave the display at: those of the last visit
  std::vector<LevelFigures> before, after;
  std::vector<BalanceReason> reasons;  ///< empty if within
  std::vector<ControlEffect> effects;  ///< one per control
  int visits = 0, readings = 0;
};

/// What to do next: set the controls (unless they stand so), read the level; or nothing, with the outcome.
struct BalanceStep {
  bool finished = false;
  BalanceMove move = BalanceMove::start;  ///< of the visit that the reading belongs to
  bool new_visit = false;                 ///< false: settings are those of the last visit
  ControlSettings settings;
  std::size_t level = 0;
  std::string why;  ///< for people
  std::optional<BalanceOutcome> outcome;
};

/// in      visits as they were done; `common`: the sources of error that all readings share (the instrument's)
/// method  Light as z = 3 (cbrt(XYZ / target) - 1), at each level a linear function of the settings; the readings are
///         weighted by their noise and by how far a straight line over the distance between their setting and the best
///         one can be wrong (Bayesian linear regression, locally weighted). Each control is probed, with steps that
///         grow until they stand clear of the noise. A proposal is the setting on the controls' steps, within their
///         ends, with the least expected square of error over tolerance, all levels together (branch and bound over the
///         integers, least squares reweighted towards the largest level)
/// out     deterministic; ends for any readings: at most most_settings visits of most_repeats readings of each level
/// errors  invalid_input naming the control, level or visit: names missing or twice, a range without a step, a start
///         outside the range, white that is no chromaticity, readings that are not finite, settings of another number;
///         no light at any level of the first visit. out_of_range for limits and tolerances that are not above 0
[[nodiscard]] Result<BalanceStep> next_balance_step(const BalanceTask& task, std::span<const BalanceVisit> visits,
                                                    const colour::Sources& sources,
                                                    std::span<const colour::SourceId> common);

/// Figures of one level as read. Intervals: value -+ t-factor x the standard uncertainty of the error vector in the
/// direction in which it is largest, not below 0: never shorter than 95 %.
[[nodiscard]] LevelFigures level_figures(const BalanceTask& task, std::size_t level,
                                         const colour::AbsoluteXyz<colour::Uncertain>& light,
                                         const colour::Sources& sources, std::span<const colour::SourceId> common);

}  // namespace provenit::correct
