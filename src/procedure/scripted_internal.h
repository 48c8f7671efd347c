#pragma once
// What the procedures of this library share: checked parameters, the reference patch that brackets each of them, rests
// on black, dwell limits, and passes over a list of patches. A procedure says which patches it wants; this says when.
#include <initializer_list>
#include <string>
#include <vector>

#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

/// One parameter: its default and, for numbers and lists of numbers, the range of each value.
struct Parameter {
  std::string key;
  nlohmann::json standard;
  double lowest = 0, highest = 0;
};

/// What a script sees.
struct Setting {
  const Context& context;
  nlohmann::json parameters;                       ///< complete and checked
  std::vector<const store::ReadingRecord*> taken;  ///< of this run, without the reference patch

  [[nodiscard]] double number(const char* key) const { return parameters[key].get<double>(); }
  [[nodiscard]] int integer(const char* key) const { return parameters[key].get<int>(); }
  [[nodiscard]] int count(const std::string& step) const;
  /// Mean luminance over the readings of a step (all, or the first `at_most`); NaN if there are none.
  [[nodiscard]] double mean_cdm2(const std::string& step, int at_most = 1 << 20) const;
};

/// A patch that a script wants measured.
struct Patch {
  std::string key;
  signal::Signal signal;
  std::string words;  ///< "window 10 %"
  instrument::Placement placement;
  instrument::LocalDimming local_dimming = instrument::LocalDimming::as_found;
};

class Scripted : public Procedure {
 public:
  [[nodiscard]] nlohmann::json default_parameters() const final;
  [[nodiscard]] Result<std::optional<Step>> next(const Context& context,
                                                 std::span<const store::ReadingRecord> readings) const override;

 protected:
  /// All of them, see with_common().
  [[nodiscard]] virtual std::vector<Parameter> parameters() const = 0;
  /// The next patch of the procedure's own, or nullopt when all are read.
  [[nodiscard]] virtual Result<std::optional<Step>> script(const Setting& setting) const = 0;
  /// What brackets the run and comes back in it, with the key "reference": a grey patch seen from the centre, unless
  /// the procedure has a better one. Always the same signal, placement and mode.
  [[nodiscard]] virtual Result<Step> reference(const Setting& setting) const;
  /// Defaults, own parameters and ranges checked. Errors as merged_parameters; out_of_range naming the key.
  [[nodiscard]] Result<Setting> setting(const Context& context, std::span<const store::ReadingRecord> readings) const;
};

/// settle_s, repeats, max_repeats, reference_cdm2, reference_window_percent, reference_interval_s, rest_s,
/// max_bright_dwell_s (docs/methods/README.md), with those of a procedure added or put in their place.
[[nodiscard]] std::vector<Parameter> with_common(const std::vector<Parameter>& own);

/// Patch by patch, pass by pass: the first of the list in the pass that is not complete, up to max_repeats passes;
/// those beyond `repeats` are optional.
[[nodiscard]] std::optional<Step> next_in_passes(const Setting& setting, const std::vector<Patch>& pass);

/// The same, but the required repeats of a patch are read in a row: for places that the meter is moved to.
[[nodiscard]] std::optional<Step> next_by_place(const Setting& setting, const std::vector<Patch>& places);

[[nodiscard]] Step step_for(const Setting& setting, const Patch& patch, int repeat, bool optional);
[[nodiscard]] Result<Step> reference_step(const Setting& setting);

/// What moving the meter takes, for procedures that move it.
inline const Parameter kMoveParameter{"move_s", instrument::kUsualMove.s, 0, 3600};

[[nodiscard]] signal::Signal full_field(const signal::Encoding& encoding, const signal::CodeRgb& code);
/// Centred, on black. area_percent 100 gives the full field.
[[nodiscard]] signal::Signal window(const signal::Encoding& encoding, const signal::CodeRgb& code, double area_percent);
/// "10" for 10, "2.5" for 2.5: for step keys.
[[nodiscard]] std::string number_text(double value);

}  // namespace provenit::procedure
