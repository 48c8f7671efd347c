#pragma once
// A person as presenter and as reader: what is asked and answered goes over a pair of streams. The streams must outlive
// the objects; calls are made from one thread.
#include <iosfwd>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/instrument/instrument.h"

namespace provenit::instrument {

/// Asks the operator to put a signal on the display, to move the meter or to switch local dimming, and waits for Enter.
/// What stands already is not asked for again. Answering "stop", or the end of the input, gives `cancelled`.
class ManualPresenter : public Presenter {
 public:
  ManualPresenter(std::istream& in, std::ostream& out);
  [[nodiscard]] Result<void> show(const signal::Signal& signal) override;
  [[nodiscard]] Result<void> place(const Placement& placement) override;
  [[nodiscard]] Result<void> set_local_dimming(LocalDimming mode) override;
  /// Asks for the controls that stand elsewhere. Enter alone: they were set as asked; "Red gain = 53": one of them was
  /// set so instead, then Enter.
  [[nodiscard]] Result<ControlSettings> set_controls(const ControlSettings& wanted) override;
  /// How meter and display stand now, without asking: as an earlier sitting left them.
  void set_standing(const Placement& placement, LocalDimming mode, ControlSettings controls = {});
  /// The picture file that holds the next signal; printed with it and then forgotten. Empty: none was written.
  void set_picture(std::string path);
  [[nodiscard]] const std::optional<signal::Signal>& shown() const { return shown_; }

 private:
  std::istream& in_;
  std::ostream& out_;
  std::string picture_;
  bool confirmed(const std::string& request);
  std::optional<signal::Signal> shown_;
  std::optional<Placement> placement_ = Placement{};
  std::optional<LocalDimming> dimming_ = LocalDimming::as_found;
  ControlSettings controls_;  ///< empty: nobody knows
  int asked_ = 0;
};

enum class TypedForm {
  Yxy,  ///< luminance in cd/m2, then CIE 1931 x and y
  XYZ   ///< tristimulus values in cd/m2
};
[[nodiscard]] const char* name_of(TypedForm form);  ///< "Yxy", "XYZ"
[[nodiscard]] std::optional<TypedForm> typed_form_of(std::string_view name);

/// Reads three numbers, parted by blanks, tabs or semicolons; decimal point or comma.
/// out     XYZ in cd/m2
/// errors  invalid_input (not three numbers), out_of_range (x or y that no light has; Y above maximum_cdm2; values that
///         look like the other form), saying what was wrong
[[nodiscard]] Result<colour::AbsoluteXyz<>> parse_typed(std::string_view line, TypedForm form, double maximum_cdm2);

/// Readings typed in by hand. Bad input is asked for again with what was wrong; what was understood is shown, and kept
/// only after Enter.
class ManualInstrument : public Instrument {
 public:
  struct Options {
    TypedForm form = TypedForm::Yxy;
    Identity identity;  ///< of the meter that is read off
    Capabilities capabilities;
  };
  /// `presenter` (may be null) is asked which signal is shown, so that the prompt can say so.
  ManualInstrument(std::istream& in, std::ostream& out, Options options, const ManualPresenter* presenter = nullptr);
  [[nodiscard]] Result<Identity> identify() override;
  [[nodiscard]] const Capabilities& capabilities() const override { return options_.capabilities; }
  /// Errors: `cancelled` for "stop" and at the end of the input; `cancelled` with is_skip() for "skip".
  [[nodiscard]] Result<Measurement> measure(std::int64_t index) override;
  /// Each refused line.
  [[nodiscard]] std::vector<InstrumentEvent> take_events() override;

 private:
  Result<Measurement> ask();
  std::istream& in_;
  std::ostream& out_;
  Options options_;
  const ManualPresenter* presenter_;
  std::vector<InstrumentEvent> events_;
};

/// The operator skipped this one reading (and did not stop the run).
[[nodiscard]] bool is_skip(const Error& error);

}  // namespace provenit::instrument
