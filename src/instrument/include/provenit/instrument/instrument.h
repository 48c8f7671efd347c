#pragma once
// What reads the display, and what shows signals on it. Implementations: simulated/ (display and meter), line/ (meters
// that speak ASCII lines), manual/ (typed in by hand). Import of finished readings is import.h.
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/instrument/control.h"
#include "provenit/instrument/placement.h"
#include "provenit/signal/signal.h"

namespace provenit::instrument {

struct Identity {
  std::string name;  ///< what the evaluator calls it
  std::string serial;
  std::string firmware;
  std::string raw;  ///< the identification reply as it came, if any
};

/// What the instrument's calibration certificate says. Expanded uncertainties as printed, with their coverage factor k.
/// The errors it speaks of are common to all readings of this instrument (fully correlated between readings).
struct Certificate {
  double luminance_expanded_relative = 0.02;  ///< U(L)/L, e.g. 0.02
  double x_expanded = 0.0015;                 ///< U(x) at the calibration source (white)
  double y_expanded = 0.0015;
  double coverage_factor = 2;
  double zero_offset_standard_cdm2 = 0;  ///< standard uncertainty of the dark offset of Y, common to all readings
  std::string number, issuer, date;      ///< as printed; empty if unknown
};

/// t(L) = overhead + clamp(reference_s * (reference_cdm2 / L)^exponent, minimum, maximum)
struct IntegrationModel {
  Seconds overhead{0.5};
  Seconds minimum{0.1};
  Seconds maximum{20};
  Seconds reference{1};
  double reference_cdm2 = 1;
  double exponent = 0.5;
  /// Time one reading at this luminance is expected to take; luminance <= 0 counts as the darkest.
  [[nodiscard]] Seconds expected(colour::Luminance<> luminance) const;
};

struct Capabilities {
  bool spectral = false;
  double minimum_cdm2 = 0;       ///< below it, readings are flagged `below_range`
  double maximum_cdm2 = 100000;  ///< above it, `saturated`
  IntegrationModel integration;
  /// Standard deviation of one reading's Y at luminance L, integrated over t: sqrt((a L)^2 + b^2 L / t + f^2), with
  /// a = repeatability_relative, b = shot_noise in sqrt(cd/m2 s), f = noise_floor_cdm2. All >= 0.
  double repeatability_relative = 0.001;
  double noise_floor_cdm2 = 0.0005;
  double shot_noise = 0;  ///< 0: not stated; then it has to lie within the other two
};

/// Spectral radiance at equal steps, W/(sr m2 nm).
struct SpectralReading {
  double start_nm = 380;
  double step_nm = 1;
  std::vector<double> radiance;
};

/// One result. Negative tristimulus values (dark subtraction) are kept: clipping would bias every mean.
struct Measurement {
  colour::AbsoluteXyz<> xyz;
  std::optional<SpectralReading> spectrum;
  Seconds integration{0};
  bool saturated = false;
  bool below_range = false;
  std::string raw_reply;  ///< as it came over the line, was typed or stood in the file; empty for simulated readings
};

/// Something that happened at the instrument and is no reading: a refused reply, a time-out, a lost connection.
struct InstrumentEvent {
  std::string kind;  ///< "refused_reply", "timeout", "late_reply", "unasked_bytes", "connection_lost", "reconnected",
                     ///< "instrument_error", "refused_input"
  std::string text;  ///< for people
  std::string raw;   ///< the bytes in question, printable (escaped); empty if none
};

/// One instrument in use. Calls are made from one thread at a time.
class Instrument {
 public:
  virtual ~Instrument() = default;
  [[nodiscard]] virtual Result<Identity> identify() = 0;
  [[nodiscard]] virtual const Capabilities& capabilities() const = 0;
  /// Takes one reading of what is shown now, and returns when it is done. `index` counts the readings of the bench from
  /// 0, so that a seeded simulation gives the same reading again after a resume.
  /// Errors: timeout, instrument (its own error reply), io (connection lost), invalid_input (a reply that cannot be
  /// read).
  [[nodiscard]] virtual Result<Measurement> measure(std::int64_t index) = 0;
  /// What happened since the last call, in order; the caller stores it with the run. Also after an error.
  [[nodiscard]] virtual std::vector<InstrumentEvent> take_events() { return {}; }
};

/// What puts a signal on the display, the meter in its place, the display into its mode and its controls to a value:
/// the simulated display, or a person asked to. Before the first call the meter looks at the centre, head on, and the
/// mode is as found.
class Presenter {
 public:
  virtual ~Presenter() = default;
  /// Returns when the signal is shown (not when it has settled).
  [[nodiscard]] virtual Result<void> show(const signal::Signal& signal) = 0;
  /// Returns when the meter has been moved. The default, where nobody can be asked, is `unsupported` for any place but
  /// the centre, head on.
  [[nodiscard]] virtual Result<void> place(const Placement& placement);
  /// Returns when the mode is set. The default is `unsupported` for on and off.
  [[nodiscard]] virtual Result<void> set_local_dimming(LocalDimming mode);
  /// Returns when these controls of the display are set, with how they really stand: a person may have set another
  /// value. The default is `unsupported`, unless none is named.
  [[nodiscard]] virtual Result<ControlSettings> set_controls(const ControlSettings& wanted);
};

}  // namespace provenit::instrument
