#pragma once
// A clock that jumps: hours of a loan pass in the time the machine needs to compute them.
#include <cmath>
#include <cstdint>

#include "provenit/base/clock.h"

namespace provenit::simulated {

/// Counts whole milliseconds, so that a time written with three decimals and read back is the very same time.
class SimulatedClock final : public Clock {
 public:
  /// Rounded to the nearest millisecond.
  explicit SimulatedClock(Timestamp start) { set(start); }

  [[nodiscard]] Timestamp now() const override { return {static_cast<double>(milliseconds_) / 1000.0}; }
  /// Jumps ahead, rounded up to a whole millisecond; spans <= 0 do nothing.
  void wait(Seconds span) override {
    if (span.s > 0) milliseconds_ += static_cast<std::int64_t>(std::ceil(span.s * 1000.0 - 1e-6));
  }
  /// Sets the time, forwards or backwards (to resume at a stored time).
  void set(Timestamp time) { milliseconds_ = std::llround(time.unix_s * 1000.0); }

 private:
  std::int64_t milliseconds_ = 0;
};

}  // namespace provenit::simulated
