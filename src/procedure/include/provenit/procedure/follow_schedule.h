#pragma once
// A follow-along clip: a fixed list of procedures' signals in one clip, for displays that only a media player feeds.
// The schedule says what the clip shows when; markers in it let the bench find its place in a stream of readings
// (follow_along.h). docs/follow-along.md.
//
// A marker is a window that takes one of four luminances for a symbol's time each, slow enough for the meter and for
// the eye: two symbols to synchronise (highest, lowest), then nine that carry a number of 10 bits and its CRC of 8.
#include <array>
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

inline constexpr int kMarkerSymbols = 11;
inline constexpr int kMostMarkers = 1023;
/// 0 to 3; the luminance doubles from one to the next.
using MarkerWord = std::array<int, kMarkerSymbols>;
/// in      number: 1 to kMostMarkers
/// source  CRC-8 x^8 + x^2 + x + 1 (ITU-T I.432.1, header error control; from memory): any two words differ in bits
///         that no burst of 8 holds
[[nodiscard]] MarkerWord marker_word(int number);

/// One picture that stays.
struct FollowHold {
  signal::Signal signal;
  std::int64_t frames = 1;  ///< video frames
  int marker = 0;           ///< number of the marker it is part of; 0: none
  // Of a step; `readings` is 0 for markers and black between.
  std::string procedure, step, why;
  int readings = 0;   ///< wanted
  Seconds settle{0};  ///< readings that begin before this do not count
};

/// A run whose steps the clip holds.
struct FollowRun {
  std::string procedure;
  int version = 1;
  nlohmann::json parameters;  ///< RunRecord::parameters
};

struct FollowSchedule {
  signal::Encoding encoding;
  int rate_numerator = 24, rate_denominator = 1;  ///< video frames per second
  std::int64_t symbol_frames = 1;
  std::vector<FollowHold> holds;
  std::vector<FollowRun> runs;

  [[nodiscard]] Seconds seconds(std::int64_t frames) const {
    return {static_cast<double>(frames) * rate_denominator / rate_numerator};
  }
  [[nodiscard]] std::int64_t frames() const;
  /// Where the word of each marker begins, from the start of the clip.
  struct Marker {
    int number = 0;
    Seconds start{0};
  };
  [[nodiscard]] std::vector<Marker> markers() const;
};

/// What goes into a clip: a procedure of the plan with its parameters.
struct FollowRequest {
  const Procedure* procedure = nullptr;
  nlohmann::json parameters = nlohmann::json::object();
};

struct FollowOptions {
  int rate_numerator = 24, rate_denominator = 1;
  double clock_tolerance = 0.01;  ///< largest relative error of the player's clock against the bench's, (0, 0.05]
  Seconds block{100};             ///< signals between two markers last about this long at most (one step: as it needs)
  int spare_readings = 1;         ///< time for so many lost readings in each hold, 0 to 20
};

struct FollowPlan {
  FollowSchedule schedule;
  /// Procedures that no fixed list with a still meter can carry, each with why.
  std::vector<std::pair<std::string, std::string>> left_out;
};

/// The clip's schedule: each procedure's required steps as an ideal display would make it ask for them, no optional
/// repeats. Left out: procedures that move the meter, switch the display's mode, or time their readings (intervals,
/// stays).
/// Every hold is long enough for: what settles, the reading in flight when it begins, its own readings and the spare
/// ones, each at Context::capabilities, and the player's clock. No picture stays for less than 0.5 s, so no more than
/// one pair of changes falls into a second (the limit of Rec. ITU-R BT.1702-3 is three).
/// Errors: those of Procedure::next; out_of_range for options, more than kMostMarkers blocks, or if nothing is left.
[[nodiscard]] Result<FollowPlan> make_follow_schedule(const std::vector<FollowRequest>& requests,
                                                      const Context& context, const FollowOptions& options = {});

/// The shortest time that a picture of the clip stays.
[[nodiscard]] Seconds shortest_hold(const FollowSchedule& schedule);

/// Readable JSON: what is shown from which second to which, with the steps; `holds` alone is read back.
[[nodiscard]] nlohmann::ordered_json to_json(const FollowSchedule& schedule);
/// Errors: invalid_input naming the key; unsupported for another version.
[[nodiscard]] Result<FollowSchedule> follow_schedule_from_json(const nlohmann::json& json);

}  // namespace provenit::procedure
