#pragma once
// The one run of this server: a thread that carries the plan of a loan through, and what people may tell it. Whatever
// it reads is in the bench before anything else happens, so a server that is killed has nothing to restore.
#include <atomic>
#include <chrono>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "dialogue.h"
#include "provenit/loan/correction.h"
#include "provenit/loan/loan.h"
#include "provenit/report/records_json.h"
#include "provenit/server/events.h"
#include "watcher.h"

namespace provenit::show {
class Page;
}

namespace provenit::server {

/// Readings that are no part of a plan, such as those of a correction.
struct SittingTask {
  std::string procedure, title;
  std::vector<std::string> cautions;
  std::function<Result<procedure::RunOutcome>(store::Bench&, const store::LoanRecord&, loan::Devices&,
                                              const loan::CorrectionHooks&)>
      run;
};

struct RunWish {
  std::optional<double> hours;
  std::vector<std::string> procedures;
  bool again = false;
  bool page = false;                ///< signals are shown on a full-screen page of this machine
  std::optional<SittingTask> task;  ///< instead of the plan
  bool evaluate = true;             ///< when the run ends
};

class RunControl {
 public:
  RunControl(std::string bench_path, std::string software, EventHub& hub, Watcher& watcher);
  ~RunControl();  ///< stops after the reading in flight

  /// Begins a sitting, or goes on with what is open. Returns once the plan is made and the devices are open. Errors:
  /// conflict if this server or another program takes readings of the loan already; those of make_plan, keep_only and
  /// open_devices.
  [[nodiscard]] Result<void> start(store::Id loan, const RunWish& wish);
  /// Goes on with a paused run as it was started; as start() otherwise.
  [[nodiscard]] Result<void> resume(store::Id loan, const RunWish& wish);
  // What a sitting under way is told; each takes effect after the reading in flight. Errors: conflict if there is none.
  [[nodiscard]] Result<void> pause(store::Id loan);
  [[nodiscard]] Result<void> skip(store::Id loan);
  [[nodiscard]] Result<void> stop(store::Id loan);
  /// Errors: conflict unless this prompt waits.
  [[nodiscard]] Result<void> answer(store::Id loan, int number, const std::string& text);

  /// Schema RunState. Errors: those of the bench.
  [[nodiscard]] Result<report::Json> state(const store::Bench& bench, store::Id loan) const;
  /// The loan whose readings are taken now.
  [[nodiscard]] std::optional<store::Id> running() const;

 private:
  enum class State { idle, running, pausing, paused, skipping, stopping };
  static const char* name_of(State state);
  /// What is told of a loan's last sitting.
  struct Sitting {
    State state = State::idle;
    RunWish wish;
    std::optional<report::Json> progress;
    std::optional<Dialogue::Prompt> prompt;
    std::string screen;
    bool finished = false;
    std::vector<loan::RunSummary> runs;
    std::vector<std::string> skipped, to_record;
    std::optional<Error> problem;
  };
  struct Work;  // what a sitting works with

  Result<void> tell(store::Id loan, State state);
  void work(Work& work);
  Result<void> sit(Work& work);
  Result<void> carry_out(Work& work);
  Result<void> evaluate(Work& work);
  void begin(Work& work, report::Json progress);
  void end(Work& work, const Result<void>& outcome);
  void take_outcome(Work& work, const loan::LoanOutcome& outcome);
  void progress(Work& work, const procedure::Progress& p);
  void publish(store::Id loan);
  [[nodiscard]] report::Json state_json(const Sitting& sitting, store::Id loan, bool can_resume, bool elsewhere) const;

  const std::string path_, software_;
  EventHub& hub_;
  Watcher& watcher_;
  mutable std::mutex mutex_;
  std::map<store::Id, Sitting> sittings_;
  store::Id loan_ = 0;          // of the sitting under way; 0: none
  std::shared_ptr<Work> work_;  // of the sitting under way
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace provenit::server
