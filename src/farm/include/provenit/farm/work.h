#pragma once
// The tasks of a job. Each may be started any number of times, on any node, also while another is at it: what is there
// is left as it is, what a killed one left goes on.
#include "provenit/farm/job.h"

namespace provenit::farm {

using Stop = std::function<bool()>;  ///< asked after each frame; true ends the task, what was measured is kept

enum class Done {
  now,      ///< made by this call
  already,  ///< it was there
  stopped   ///< the same task goes on with what was measured
};

struct Worker {
  std::string software;  ///< of this program; must be that of the plan
  int threads = 1;       ///< of the decoder and the meter, for one part; 0: cores
  Stop stop = {};
};

/// Surveys one part. Waits where another process is at it. An error is kept beside the part for status as well.
/// Errors: conflict naming the title and what differs if it, or the program, is not that of the plan; those of
/// survey_title.
[[nodiscard]] Result<Done> make_part(const Job& job, std::size_t title, std::size_t part, const Worker& worker);

/// Joins the parts of a title to its survey, byte for byte the survey of the whole; then makes the forecast, where one
/// is planned: the bytes that `provenit forecast title --json` prints. Errors are kept for status as well.
/// Errors: not_found naming the parts that are missing; conflict for parts of something else; those of merge_surveys,
/// forecast_of.
[[nodiscard]] Result<Done> make_title(const Job& job, std::size_t title, const Worker& worker);

/// Parts of a title that are not there, counted from 0.
[[nodiscard]] std::vector<std::size_t> missing_parts(const Job& job, std::size_t title);

struct RunOutcome {
  bool stopped = false;
  std::vector<Error> errors;  ///< of tasks; the others went on
};
/// The whole job on this machine, without an engine, so many tasks at once (0: cores). What was refused before is tried
/// again.
[[nodiscard]] RunOutcome run(const Job& job, int jobs, const Worker& worker);

/// Puts every survey that is there into a bench. Errors: those of Bench::open, SurveyFile::open and add_to_bench.
struct Collected {
  std::size_t title = 0;
  store::Id survey = 0;  ///< 0: that very survey was in the bench already
};
[[nodiscard]] Result<std::vector<Collected>> collect(const Job& job, const std::string& bench, Timestamp now);

}  // namespace provenit::farm
