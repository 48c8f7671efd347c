#pragma once
// A loan's procedures as one follow-along clip, and the readings taken while somebody plays it.
// docs/follow-along.md.
#include <functional>
#include <string>
#include <vector>

#include "provenit/instrument/instrument.h"
#include "provenit/procedure/follow_along.h"
#include "provenit/signal_files/clip.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// The schedule for these procedures (in this order) of the loan, as the display is described. Errors: not_found for an
/// unknown procedure; those of make_follow_schedule.
[[nodiscard]] Result<procedure::FollowPlan> follow_plan(const store::Bench& bench, const store::LoanRecord& loan,
                                                        const std::vector<procedure::FollowRequest>& requests,
                                                        const procedure::FollowOptions& options = {});

/// Writes the clip, and beside it `path`.json: the schedule with the clip's SHA-256. Errors: those of write_clip; io.
[[nodiscard]] Result<void> write_follow_clip(const procedure::FollowSchedule& schedule, const std::string& path,
                                             signal::RasterSize size, const signal::ClipFormat& format,
                                             const signal::ClipProgress& progress = {});

struct FollowFile {
  procedure::FollowSchedule schedule;
  std::string id;  ///< SHA-256 of the schedule file: names the clip in the readings and in the journal
};
/// Errors: io; those of follow_schedule_from_json.
[[nodiscard]] Result<FollowFile> read_follow_file(const std::string& path);

/// What reads on and on while the clip plays.
struct FollowSource {
  instrument::Instrument& instrument;
  Clock& clock;
  std::string origin;             ///< of the runs: "measured", "simulated"
  std::optional<Timestamp> ends;  ///< nothing more can come then (a simulated player); not set: goes on
};

struct FollowHooks {
  /// After each reading: how many were read, kept as readings of a step, are wanted; the last marker, the last reading.
  struct Progress {
    std::int64_t read = 0, kept = 0, wanted = 0;
    int marker = 0;
    double luminance_cdm2 = 0;
  };
  std::function<void(const Progress&)> progress;
  std::function<bool()> stop_requested;
};

struct FollowOutcome {
  FollowHooks::Progress counts;  ///< of the whole journal
  bool complete = false;         ///< every step of the clip has its readings, and every run is finished
  std::vector<store::Id> runs;
  std::vector<std::string> missing;  ///< "greyscale: grey_512 (1 of 1)": what another playing can fill in
};

/// Follows until the clip's steps have their readings, the source ends, or a stop is asked for. Each reading is written
/// to the journal (durably) before anything else is done with it; those of a step are stored in a run of its procedure,
/// begun when its first reading is there and finished with its last. A journal that is there is gone through again
/// first, so that a kill at any moment loses the reading in flight at most, and nothing is stored twice. Errors of the
/// instrument are waited out; 20 in a row end the call. Errors: those of bench and journal (io); conflict if the
/// journal is of another clip or loan; unsupported if this build has another version of a procedure.
[[nodiscard]] Result<FollowOutcome> follow(store::Bench& bench, const store::LoanRecord& loan, const FollowFile& file,
                                           const std::string& journal, const FollowSource& source,
                                           const FollowHooks& hooks = {});

/// A player of the clip before the loan's simulated display and meter.
struct PlayerOptions {
  Seconds start_delay{8};  ///< from the first reading
  double rate_error = 0;   ///< of the player's clock, relative
};
class SimulatedPlayer {
 public:
  /// Goes on where the journal ends, if there is one. Errors: invalid_input if the loan's display and meter are not
  /// both simulated; those of the journal.
  [[nodiscard]] static Result<SimulatedPlayer> make(const store::Bench& bench, const store::LoanRecord& loan,
                                                    const FollowFile& file, const std::string& journal,
                                                    const PlayerOptions& options);
  SimulatedPlayer(SimulatedPlayer&&) noexcept;
  ~SimulatedPlayer();
  /// Valid as long as the player.
  [[nodiscard]] FollowSource source();

 private:
  class Impl;
  explicit SimulatedPlayer(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::loan
