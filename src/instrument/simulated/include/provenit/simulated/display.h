#pragma once
// The simulated display: what is shown, and the light it gives towards the meter from the spot it looks at, over time.
#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/instrument/instrument.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// Where the slow changes stand. All that a settled light depends on besides the signal.
struct ThermalState {
  std::array<double, 3> channel{1, 1, 1};  ///< factor on each channel's light
  double common = 1;                       ///< factor on the leakage too
  double warmth = 1;                       ///< 0 cold, 1 warm: position of the spectral shift
};

/// Calls are made from one thread at a time.
class SimulatedDisplay final : public instrument::Presenter {
 public:
  struct Options {
    std::uint64_t seed = 1;             ///< of the slow wander
    Timestamp powered_on{0};            ///< warm-up counts from here; before it the display counts as cold
    double spot_x = 0.5, spot_y = 0.5;  ///< where the meter looks at first, shares of the picture's width and height
    double angle_error_deg = 0;  ///< standard deviation of the angle at which the meter really stands, drawn for each
                                 ///< placement by the seed; head on is exact
  };

  /// Precomputes the tristimulus values of every spectrum. The clock must outlive the display. Shows full-field black
  /// until told otherwise. The physics must come from parse_physics, load_physics, built_in_physics or vary(); any
  /// other that gives no white is a programming error and throws std::invalid_argument.
  SimulatedDisplay(DisplayPhysics physics, const Clock& clock, Options options);
  ~SimulatedDisplay() override;
  SimulatedDisplay(SimulatedDisplay&&) noexcept;
  SimulatedDisplay& operator=(SimulatedDisplay&&) noexcept;

  /// Shows the signal from the clock's time on. Errors: those of signal::validate.
  [[nodiscard]] Result<void> show(const signal::Signal& signal) override;
  /// Moves the meter, at once. Errors: those of instrument::validate.
  [[nodiscard]] Result<void> place(const instrument::Placement& placement) override;
  /// as_found is on. Moves from one mode to the other as from one picture to the other. Errors: unsupported for on and
  /// off if the display has no zones.
  [[nodiscard]] Result<void> set_local_dimming(instrument::LocalDimming mode) override;

  /// Sets its own controls, at once; the light moves as from one picture to the other. All or none. Errors: not_found;
  /// out_of_range for a value outside a control's range or between its steps.
  [[nodiscard]] Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override;
  /// Empty if it has none.
  [[nodiscard]] std::vector<instrument::DisplayControl> controls() const;

  [[nodiscard]] const DisplayPhysics& physics() const;
  [[nodiscard]] const Clock& clock() const;
  /// Limiter and zones have ended their move this long after show(), exactly: from then on the light depends on signal
  /// and time alone, and no longer on what was shown before (this is what makes a resumed run repeat). Only the slow
  /// dimming of bright stays (physics().stay_dimming) lasts longer; it begins after delay_s on one bright signal.
  [[nodiscard]] Seconds lag() const;

  // What is shown now.
  /// Light at one moment (without the modulation at the refresh rate).
  [[nodiscard]] colour::AbsoluteXyz<> light(Timestamp at) const;
  /// Mean light over [from, from + span], modulation included. span > 0.
  [[nodiscard]] colour::AbsoluteXyz<> mean_light(Timestamp from, Seconds span) const;
  /// Spectral radiance at that moment, 380 to 780 nm at 1 nm, W/(sr m2 nm); its XYZ (CIE 1931, Km = 683) is light(at).
  [[nodiscard]] instrument::SpectralReading spectrum(Timestamp at) const;

  // The truth, free of noise and lag: what evaluation's findings are held against.
  [[nodiscard]] ThermalState thermal(Timestamp at) const;
  /// Warm, without wander.
  [[nodiscard]] static ThermalState settled_thermal() { return {}; }
  /// Light of a signal shown for longer than lag() and no longer than stay_dimming.delay_s, from where the meter is
  /// told to look (without its angle error), in the mode and with the controls that are set. The signal must be valid.
  [[nodiscard]] colour::AbsoluteXyz<> truth(const signal::Signal& signal, const ThermalState& state) const;
  [[nodiscard]] colour::AbsoluteXyz<> truth(const signal::Signal& signal, Timestamp at) const;
  /// The same from elsewhere, in another mode; what is shown and where the meter stands do not matter.
  [[nodiscard]] colour::AbsoluteXyz<> truth(const signal::Signal& signal, const ThermalState& state,
                                            const instrument::Placement& placement,
                                            instrument::LocalDimming mode = instrument::LocalDimming::as_found) const;
  [[nodiscard]] instrument::SpectralReading truth_spectrum(const signal::Signal& signal,
                                                           const ThermalState& state) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::simulated
