#pragma once
// What one sitting of a run holds while its thread works. Only run_control.cpp and run_work.cpp see inside.
#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "dialogue.h"
#include "parts.h"
#include "provenit/loan/devices.h"
#include "provenit/loan/run_lock.h"
#include "provenit/show/page.h"
#include "run_control.h"

namespace provenit::server {

class MachineClock final : public Clock {
 public:
  [[nodiscard]] Timestamp now() const override { return machine_time(); }
  void wait(Seconds span) override {
    if (span.s > 0) std::this_thread::sleep_for(std::chrono::duration<double>(span.s));
  }
};

/// Members refer to each other: the devices to the clock, the dialogue and the screen.
struct RunControl::Work {
  Work(store::Bench opened, store::LoanRecord record, loan::RunLock held,
       std::function<void(const std::optional<Dialogue::Prompt>&)> asked)
      : bench(std::move(opened)), loan(std::move(record)), lock(std::move(held)), dialogue(std::move(asked)) {}

  store::Bench bench;
  store::LoanRecord loan;
  std::optional<loan::RunLock> lock;
  MachineClock clock;
  Dialogue dialogue;
  std::unique_ptr<show::Page> page;
  std::unique_ptr<show::ScreenPresenter> presenter;
  std::unique_ptr<loan::Devices> devices;
  std::vector<std::string> cautions;
  procedure::Plan plan;
  RunWish wish;
  std::size_t count = 0;    // runs of the plan as it was begun
  std::size_t dropped = 0;  // of those, done with before the plan that is run now
  std::size_t current = 0;  // in the plan that is run now
  std::chrono::steady_clock::time_point told;
};

}  // namespace provenit::server
