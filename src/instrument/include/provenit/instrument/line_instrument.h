#pragma once
// Any meter that speaks ASCII lines over a serial port or TCP, as its description says.
#include <memory>
#include <string>
#include <vector>

#include "provenit/instrument/instrument.h"
#include "provenit/instrument/instrument_description.h"
#include "provenit/instrument/transport.h"

namespace provenit::instrument {

/// One meter on one line. After any error the object can be used again: the next call brings the line back into step,
/// reconnecting if it must, within the limits of RecoveryPolicy. Used from one thread.
class LineInstrument : public Instrument {
 public:
  /// Opens the transport and sends the set-up lines. Errors: io, timeout, instrument, invalid_input (a set-up reply
  /// that is not the described one).
  [[nodiscard]] static Result<std::unique_ptr<LineInstrument>> open(InstrumentDescription description);
  /// The same over a transport made by the caller (which need not be connected yet).
  [[nodiscard]] static Result<std::unique_ptr<LineInstrument>> open(InstrumentDescription description,
                                                                    std::unique_ptr<Transport> transport);
  ~LineInstrument() override;

  /// Without an identify line: the description's title.
  [[nodiscard]] Result<Identity> identify() override;
  [[nodiscard]] const Capabilities& capabilities() const override;
  /// Takes one reading, repeating a refused one up to RecoveryPolicy::attempts times. raw_reply holds the reply lines
  /// as they came (escaped). What was refused on the way is in take_events().
  [[nodiscard]] Result<Measurement> measure(std::int64_t index) override;
  [[nodiscard]] std::vector<InstrumentEvent> take_events() override;

  /// The luminance that the next readings are expected to have: shortens their time-outs. Without it the longest
  /// integration time is allowed for. A display darker than a quarter of it may be timed out.
  void expect(colour::Luminance<> luminance);
  [[nodiscard]] const InstrumentDescription& description() const;

 private:
  class Session;
  explicit LineInstrument(std::unique_ptr<Session> session);
  std::unique_ptr<Session> session_;
};

}  // namespace provenit::instrument
