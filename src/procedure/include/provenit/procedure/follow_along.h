#pragma once
// Keeps the bench in step with a clip that somebody plays: finds the clip's markers in a stream of readings and says
// to which step each reading belongs, or to none. Pure: it knows readings and the schedule, no clock and no file.
//
// How. The readings' luminances, relative to the highest of a word, give its symbols; a word counts if no clean reading
// contradicts it, at most three symbols were missed, and exactly one number of the schedule fits. Readings between two
// markers are held back until the second is found. A reading's place in the clip is then bounded from both: counted on
// from the first marker and back from the second, at every rate that the player's clock may have. A player that
// pauses is never ahead of the one count nor behind the other, so a reading is given to a step only if all of the
// bounds lie inside the settled part of that step. Everything else is thrown out, with the reason.
#include <cstddef>
#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "provenit/procedure/follow_schedule.h"

namespace provenit::procedure {

/// A reading as the bench knows it: asked for at `from`, there at `to`; the meter integrated somewhere in between.
struct TimedReading {
  Timestamp from, to;
  double luminance_cdm2 = 0;
};

/// What became of a reading.
struct Placed {
  std::int64_t reading = 0;         ///< counted from 0 in the order of FollowAlong::take
  std::optional<std::size_t> hold;  ///< index into FollowSchedule::holds; nullopt: thrown out
  std::string why;                  ///< of one thrown out
};

struct FollowEvent {
  std::string kind;  ///< "marker", "pause", "jump", "unclear_marker", "out_of_order"
  Timestamp at;
  std::string text;
};

struct FollowNews {
  std::vector<Placed> placed;
  std::vector<FollowEvent> events;
};

class FollowAlong {
 public:
  /// The schedule must be one of make_follow_schedule and outlive the object.
  explicit FollowAlong(const FollowSchedule& schedule, double clock_tolerance = 0.01);
  FollowAlong(FollowAlong&&) noexcept;
  FollowAlong& operator=(FollowAlong&&) noexcept;
  ~FollowAlong();

  /// In the order of time. What this reading made clear, of itself or of earlier ones.
  [[nodiscard]] FollowNews take(const TimedReading& reading);
  /// No more readings: the last marker is decided, and what is still held back is thrown out.
  [[nodiscard]] FollowNews finish();

  /// Readings held back until the next marker.
  [[nodiscard]] std::size_t held_back() const;
  /// Number of the last marker found; 0: none yet.
  [[nodiscard]] int last_marker() const;
  /// Readings given to this hold so far.
  [[nodiscard]] int readings_of(std::size_t hold) const;
  /// Every hold of a step has the readings it wants.
  [[nodiscard]] bool complete() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::procedure
