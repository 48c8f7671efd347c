#pragma once
// How far a job is: from its folder alone, and from squeue where it is.
#include <nlohmann/json_fwd.hpp>

#include "provenit/farm/job.h"

namespace provenit::farm {

enum class State {
  waiting,  ///< not begun, or given to an engine again
  running,
  done,
  failed,  ///< refused, with its error
  lost     ///< begun, and ended without a result: killed, or its node went away
};
[[nodiscard]] const char* name_of(State state);  ///< as spelled here

struct TaskStatus {
  State state = State::waiting;
  std::int64_t done = 0;       ///< frames measured so far
  bool complete = true;        ///< false: frames could not be had, or were damaged
  std::string hash;            ///< of a survey that is done
  std::optional<Error> error;  ///< of a failed one
  double rate_hz = 0;          ///< frames per second of a running one
};
struct TitleStatus {
  std::vector<TaskStatus> parts;
  TaskStatus survey;  ///< the parts joined
  std::optional<TaskStatus> forecast;
  int attempt = 0;  ///< how often it was given to an engine; 0: never
};
struct JobStatus {
  std::vector<TitleStatus> titles;
  std::int64_t frames = 0, done = 0;
  std::optional<double> left_s;  ///< at the rate of what is running
  [[nodiscard]] bool finished() const;
};

/// Errors: io.
[[nodiscard]] Result<JobStatus> status(const Job& job);

/// Schema Farm of openapi.json: what `provenit farm status --json` and the server say. `told` makes of an error what
/// those who ask may see of it.
[[nodiscard]] nlohmann::ordered_json to_json(const Job& job, const JobStatus& status,
                                             const std::function<nlohmann::ordered_json(const Error&)>& told);
/// An error with all it has: code, message, advice, where.
[[nodiscard]] nlohmann::ordered_json error_json(const Error& error);

}  // namespace provenit::farm
