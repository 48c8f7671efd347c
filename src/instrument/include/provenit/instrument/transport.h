#pragma once
// Bytes to and from an instrument. The transports read the machine's monotonic clock, for time-outs only.
#include <memory>
#include <string>
#include <string_view>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"

namespace provenit::instrument {

struct TransportDescription;

/// One connection. Not connected when made. Used from one thread.
class Transport {
 public:
  virtual ~Transport() = default;
  /// Connects, or connects anew. Errors: io, timeout.
  [[nodiscard]] virtual Result<void> connect() = 0;
  virtual void close() = 0;
  [[nodiscard]] virtual bool connected() const = 0;
  /// Sends all bytes. Errors: io (connection lost; it is then closed), timeout.
  [[nodiscard]] virtual Result<void> send(std::string_view bytes, Seconds timeout) = 0;
  /// Waits for bytes and returns those that are there; empty if none came in time. Errors: io (connection lost; it is
  /// then closed).
  [[nodiscard]] virtual Result<std::string> receive(Seconds timeout) = 0;
  /// Monotonic time, from an arbitrary zero.
  [[nodiscard]] virtual Seconds elapsed() const = 0;
  virtual void wait(Seconds span) = 0;
};

[[nodiscard]] std::unique_ptr<Transport> make_transport(const TransportDescription& description);

}  // namespace provenit::instrument
