#pragma once
// Time is passed in. Nothing below cli, server and the instruments' transports reads the machine's clock.
#include <chrono>

namespace provenit {

/// A span of time. Conversions are explicit, so that a bare number never passes for seconds.
struct Seconds {
  double s = 0;
  friend constexpr auto operator<=>(const Seconds&, const Seconds&) = default;
  friend constexpr Seconds operator+(Seconds a, Seconds b) { return {a.s + b.s}; }
  friend constexpr Seconds operator-(Seconds a, Seconds b) { return {a.s - b.s}; }
  friend constexpr Seconds operator*(double k, Seconds a) { return {k * a.s}; }
};

/// Wall time as seconds since 1970-01-01T00:00:00Z.
struct Timestamp {
  double unix_s = 0;
  friend constexpr auto operator<=>(const Timestamp&, const Timestamp&) = default;
  friend constexpr Timestamp operator+(Timestamp t, Seconds d) { return {t.unix_s + d.s}; }
  friend constexpr Seconds operator-(Timestamp a, Timestamp b) { return {a.unix_s - b.unix_s}; }
};

/// What gives the time and waits. The simulator has one that jumps; the machine's is made by cli or server.
class Clock {
 public:
  virtual ~Clock() = default;
  [[nodiscard]] virtual Timestamp now() const = 0;
  virtual void wait(Seconds span) = 0;  ///< spans <= 0 return at once
};

}  // namespace provenit
