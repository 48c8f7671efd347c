#pragma once
// The one survey that is being made in the background. What was measured outlives a cancelled or killed one: started
// again, it goes on.
#include <atomic>
#include <chrono>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "provenit/programme/reader.h"
#include "provenit/programme/survey.h"
#include "provenit/report/records_json.h"
#include "provenit/server/events.h"
#include "provenit/store/bench.h"

namespace provenit::server {

class SurveyJob {
 public:
  SurveyJob(std::string bench_path, std::string software, EventHub& hub);
  ~SurveyJob();  ///< stops; what was measured is kept

  /// `name`: of the file, as people know it. Errors: conflict if one is under way.
  [[nodiscard]] Result<void> start(const std::string& path, const std::string& name,
                                   const programme::ReaderOptions& reading);
  /// Takes effect after the frame in work. Errors: conflict if none is under way.
  [[nodiscard]] Result<void> cancel();
  /// Schema SurveyJob.
  [[nodiscard]] report::Json state() const;

 private:
  enum class State { idle, running, cancelling, done, cancelled, failed };
  static const char* name_of(State state);
  void work(const std::string& path, const std::string& name, const programme::ReaderOptions& reading);
  bool progress(const programme::SurveyProgress& p);
  void publish();

  const std::string bench_path_, software_;
  EventHub& hub_;
  mutable std::mutex mutex_;
  State state_ = State::idle;
  std::string file_;
  std::int64_t done_ = 0, total_ = 0, done_before_ = -1;
  double max_cdm2_ = 0, mean_cdm2_ = 0, rate_hz_ = 0;
  store::Id survey_ = 0;
  std::optional<Error> problem_;
  std::chrono::steady_clock::time_point began_, told_;
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace provenit::server
