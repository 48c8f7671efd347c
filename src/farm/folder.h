#pragma once
// What tasks leave in the job's folder beside their results: locks, progress, errors.
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "provenit/farm/work.h"

namespace provenit::farm::detail {

using Json = nlohmann::ordered_json;

/// "0001-0002": title 1, part 2, counted from 0 here.
[[nodiscard]] std::string task_name(std::size_t title);
[[nodiscard]] std::string task_name(std::size_t title, std::size_t part);
[[nodiscard]] std::string forecast_task(std::size_t title);
/// folder/sub/name
[[nodiscard]] std::string file_in(const Job& job, const char* sub, const std::string& name);
[[nodiscard]] bool is_there(const std::string& path);
/// The folders of a job.
inline constexpr const char *kTitles = "titles", *kSurveys = "surveys", *kForecasts = "forecasts", *kErrors = "errors",
                            *kProgress = "progress", *kLocks = "locks", *kQueue = "queue", *kLogs = "logs";
inline constexpr const char* kBenchCopy = "loan.bench";

/// One process at a time works at a task. The lock is of the kind that network file systems carry from node to node,
/// and goes with its holder, however that ends.
class TaskLock {
 public:
  /// Waits until nobody else holds it; nullopt if `stop` says so meanwhile. Errors: io.
  [[nodiscard]] static Result<std::optional<TaskLock>> take(const Job& job, const std::string& task, const Stop& stop);
  [[nodiscard]] static bool is_held(const Job& job, const std::string& task);
  TaskLock(TaskLock&& other) noexcept : file_(std::exchange(other.file_, -1)) {}
  TaskLock& operator=(TaskLock&&) = delete;
  ~TaskLock();

 private:
  explicit TaskLock(int file) : file_(file) {}
  int file_;
};

/// Of a part, written every few seconds; stays when the part is done.
struct Progress {
  std::int64_t done = 0, done_before = 0;  ///< frames; done_before: by earlier tries
  double seconds = 0;                      ///< of this try
  bool complete = true;
};
[[nodiscard]] Result<void> write_progress(const Job& job, const std::string& task, const Progress& progress);
[[nodiscard]] std::optional<Progress> read_progress(const Job& job, const std::string& task);

/// The error of a task stays until it succeeds.
void keep_error(const Job& job, const std::string& task, const Error& error, Json about);
void forget_error(const Job& job, const std::string& task);
[[nodiscard]] std::optional<Error> kept_error(const Job& job, const std::string& task);
[[nodiscard]] Json to_json(const Error& error);

/// Whether a task that ended so may end otherwise on another node or later.
[[nodiscard]] bool worth_another_try(const Error& error);

}  // namespace provenit::farm::detail
