#pragma once
// The display and the instrument of a loan, opened and ready: simulated, on a line, or by hand.
#include <iosfwd>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/instrument/instrument.h"
#include "provenit/procedure/recording.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// What the caller lends: its clock and, for signals and readings by hand, the streams to talk to the operator.
struct DeviceOptions {
  Clock* machine_clock = nullptr;  ///< not null; used unless the display is simulated
  std::istream* in = nullptr;      ///< null: nothing can be asked, and devices that must ask are refused
  std::ostream* out = nullptr;
  std::string picture_folder;  ///< where signals shown by hand are written as pictures; empty: not written
  /// Shows the signals of a real display itself; the operator is asked for the rest. Null: the operator shows them.
  /// Must outlive the devices.
  instrument::Presenter* screen = nullptr;
};

/// One file of a recording (procedure/recording.h), and how it was made.
struct RecordedFile {
  std::string step, name, bytes;
  nlohmann::json parameters = nlohmann::json::object();  ///< of the test picture, where other than the step's
  nlohmann::json conditions = nlohmann::json::object();  ///< as in AttachRequest (recordings.h)
};

/// Owns what a run uses. Members refer to each other: the object is not copied or moved apart.
class Devices {
 public:
  virtual ~Devices() = default;
  [[nodiscard]] virtual Clock& clock() = 0;
  [[nodiscard]] virtual instrument::Presenter& presenter() = 0;
  [[nodiscard]] virtual instrument::Instrument& instrument() = 0;
  /// "simulated", "measured" or "typed": kept with each run.
  [[nodiscard]] virtual std::string origin() const = 0;
  /// The display's own controls, where it is simulated and says what it has; empty where a person has to name them.
  [[nodiscard]] virtual std::vector<instrument::DisplayControl> controls() const { return {}; }
  /// Every file of the recording, where the display is simulated and so is a light sensor before it; nullopt where a
  /// person has to record, or the simulated display has nothing to show.
  [[nodiscard]] virtual std::optional<std::vector<RecordedFile>> record(const procedure::Recording& /*recording*/) {
    return std::nullopt;
  }
};

/// Opens what the loan's display and instrument records name.
///   simulated  the display record's details.simulated names a display of data/simulated; both instrument and display
///              are simulated from the loan's seed, the clock jumps, and starts at the end of the newest reading of the
///              loan (or at the loan's start), so that a resumed run goes on as if it had not been interrupted
///   line       the instrument record's details.description is a file; details.address replaces its address
///   manual     readings typed in; the operator shows the signals, unless a screen of this machine does
/// Errors: invalid_input if display and instrument do not fit together (one simulated, the other real), or if a screen
/// is given for a simulated display; those of opening the instrument.
[[nodiscard]] Result<std::unique_ptr<Devices>> open_devices(const store::Bench& bench, const store::LoanRecord& loan,
                                                            const DeviceOptions& options);

}  // namespace provenit::loan
