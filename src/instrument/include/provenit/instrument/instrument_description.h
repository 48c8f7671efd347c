#pragma once
// A line instrument as a TOML file: transport, dialect, replies, time-outs, capabilities. docs/instruments.md lists
// every key; data/instruments/ has examples. Reading one is pure; nothing is opened.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/colour/spectrum_xyz.h"
#include "provenit/instrument/instrument.h"
#include "provenit/instrument/reply_pattern.h"

namespace provenit::instrument {

enum class TransportKind { tcp, serial };
enum class Parity { none, even, odd };
enum class Flow { none, hardware, software };

struct TransportDescription {
  TransportKind kind = TransportKind::tcp;
  std::string host;  ///< tcp: name or address
  int port = 0;
  std::string device;  ///< serial: e.g. /dev/ttyUSB0
  int baud = 9600;
  int data_bits = 8, stop_bits = 1;
  Parity parity = Parity::none;
  Flow flow = Flow::none;
  Seconds connect_timeout{3};
  /// "tcp:host:port" or "serial:/dev/ttyUSB0", for messages.
  [[nodiscard]] std::string address() const;
};

/// How long to wait for a reply: fixed + integrations x (expected integration time).
struct TimeoutRule {
  Seconds fixed{2};
  double integrations = 0;
};

/// One line to send, and what must come back.
struct Command {
  std::string send;
  std::optional<ReplyPattern> reply;  ///< unset: nothing is awaited
  TimeoutRule timeout;
  Seconds delay_after{0};
};

/// A line that means an error, whatever was asked.
struct ErrorReply {
  ReplyPattern pattern;
  std::string meaning;
  bool retry = false;  ///< worth another attempt at the same reading
};

/// A queue of errors that is read one by one until it is empty (SCPI-1999 SYSTem:ERRor? style).
struct ErrorQueue {
  Command command;  ///< its reply has {code}, and may have {message}
  int empty_code = 0;
  int limit = 20;           ///< entries read at most
  bool after_each = false;  ///< asked after every reading, and not only after a failure
};

struct RecoveryPolicy {
  int attempts = 2;            ///< of one reading, the first included
  Seconds drain_quiet{0.2};    ///< the line must be quiet for so long before it is used again after a failure
  Seconds drain_limit{5};      ///< at most so long is waited for quiet
  int reconnect_attempts = 3;  ///< per lost connection
  Seconds reconnect_wait{0.5};
  int reconnect_total = 20;  ///< over the life of the object: a connection that drops again and again is an error
};

struct InstrumentDescription {
  std::string file;   ///< where it came from, for messages
  std::string title;  ///< what kind of meter this describes
  std::string note;
  TransportDescription transport;
  std::string send_ending = "\n";
  ReplyLimits lines;
  bool echo = false;  ///< the instrument sends back each line before its reply
  Seconds delay_between{0};
  std::optional<Command> identify;
  std::vector<Command> setup;
  std::vector<Command> measure;  ///< at least one; their fields together make the reading
  std::vector<ErrorReply> errors;
  std::optional<ErrorQueue> error_queue;
  RecoveryPolicy recovery;
  Capabilities capabilities;
  Certificate certificate;
  colour::XyzMethod spectral{.summation = colour::Summation::native};  ///< for a reply without XYZ
  /// Chromaticity to assume where the instrument gives none (x = y = 0 below its range); unset: such a reply is
  /// refused.
  std::optional<colour::Xy<>> dark_chromaticity;
};

/// Reads a description. `file` is for error places.
/// errors  invalid_input with line and key: not TOML, an unknown key, a wrong type, a bad pattern, a measure reply that
///         gives no colour; out_of_range for numbers outside the documented range
[[nodiscard]] Result<InstrumentDescription> parse_description(std::string_view toml, const std::string& file);
/// Errors: also io.
[[nodiscard]] Result<InstrumentDescription> read_description(const std::string& path);
/// Replaces the transport's address: "tcp:HOST:PORT", "tcp:[V6]:PORT", "serial:DEVICE" or "serial:DEVICE:BAUD".
[[nodiscard]] Result<void> set_address(InstrumentDescription& description, std::string_view address);

/// The fields of one reading as a Measurement (raw_reply left empty).
/// errors  instrument for the overrange marks of SCPI-1999 (9.9E37 infinity, 9.91E37 not a number); invalid_input for
///         values that no light has; out_of_range for a luminance more negative than dark subtraction explains
[[nodiscard]] Result<Measurement> measurement_from(const ReplyFields& fields, const InstrumentDescription& description);

}  // namespace provenit::instrument
