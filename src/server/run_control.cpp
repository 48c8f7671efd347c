#include "run_control.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "parts.h"
#include "provenit/loan/planned.h"
#include "run_work.h"

namespace provenit::server {
namespace {

tl::unexpected<Error> nothing_runs(store::Id loan) {
  return fail(ErrorCode::conflict, fmt::format("no readings of loan {} are being taken here", loan),
              "Start or resume its run first.");
}

/// What a wish without a task is for. Errors: those of make_plan and keep_only.
Result<procedure::Plan> planned(const store::Bench& bench, const store::LoanRecord& loan, const RunWish& wish) {
  const auto available = wish.hours ? std::optional(Seconds{*wish.hours * 3600}) : std::nullopt;
  auto plan = loan::make_plan(bench, loan, machine_time(), available);
  if (!plan) return plan;
  if (auto kept = loan::keep_only(*plan, wish.procedures); !kept) return tl::unexpected(kept.error());
  return plan;
}

}  // namespace

RunControl::RunControl(std::string bench_path, std::string software, EventHub& hub, Watcher& watcher)
    : path_(std::move(bench_path)), software_(std::move(software)), hub_(hub), watcher_(watcher) {}

RunControl::~RunControl() {
  stop_ = true;
  {
    const std::lock_guard lock(mutex_);
    if (work_) work_->dialogue.stop();
  }
  if (thread_.joinable()) thread_.join();
}

const char* RunControl::name_of(State state) {
  static constexpr const char* names[] = {"idle", "running", "pausing", "paused", "skipping", "stopping"};
  return names[static_cast<int>(state)];
}

Result<void> RunControl::start(store::Id loan_id, const RunWish& wish) {
  {
    const std::lock_guard lock(mutex_);
    if (loan_ != 0)
      return fail(ErrorCode::conflict, fmt::format("readings of loan {} are being taken already", loan_),
                  "Let that run end, or stop it; then start again.");
    loan_ = loan_id;
  }
  if (thread_.joinable()) thread_.join();  // of the sitting before, which has ended
  stop_ = false;
  auto prepared = [&]() -> Result<std::shared_ptr<Work>> {
    auto bench = store::Bench::open(path_);
    if (!bench) return tl::unexpected(bench.error());
    auto loan = bench->loan(loan_id);
    if (!loan) return tl::unexpected(loan.error());
    auto held = loan::RunLock::take(path_, loan_id);
    if (!held) return tl::unexpected(held.error());
    auto plan = wish.task ? Result<procedure::Plan>(procedure::Plan()) : planned(*bench, *loan, wish);
    if (!plan) return tl::unexpected(plan.error());
    auto work = std::make_shared<Work>(
        std::move(*bench), std::move(*loan), std::move(*held),
        [this, loan_id](const std::optional<Dialogue::Prompt>& prompt) {
          {
            const std::lock_guard lock(mutex_);
            sittings_[loan_id].prompt = prompt;
          }
          if (prompt)
            hub_.publish("prompt",
                         report::Json{{"loan", loan_id}, {"number", prompt->number}, {"text", prompt->text}}.dump());
          publish(loan_id);
        });
    work->plan = std::move(*plan);
    work->wish = wish;
    work->count = wish.task ? 1 : work->plan.runs.size();
    if (wish.page) {
      auto cautions = wish.task ? Result<std::vector<std::string>>(wish.task->cautions)
                                : loan::cautions_of(work->bench, work->loan, work->plan);
      if (!cautions) return tl::unexpected(cautions.error());
      work->cautions = std::move(*cautions);
      for (auto& text : loan::usual_cautions()) work->cautions.push_back(std::move(text));
      auto page = show::Page::open({.cautions = work->cautions});
      if (!page) return tl::unexpected(page.error());
      work->page = std::move(*page);
      work->page->set_stop([this] { return stop_.load(); });
      work->presenter = std::make_unique<show::ScreenPresenter>(*work->page);
    }
    auto devices = loan::open_devices(work->bench, work->loan,
                                      {.machine_clock = &work->clock,
                                       .in = &work->dialogue.in(),
                                       .out = &work->dialogue.out(),
                                       .picture_folder = {},
                                       .screen = work->presenter.get()});
    if (!devices) return tl::unexpected(devices.error());
    work->devices = std::move(*devices);
    return work;
  }();
  {
    const std::lock_guard lock(mutex_);
    if (!prepared) {
      loan_ = 0;
      return tl::unexpected(prepared.error());
    }
    work_ = *prepared;
    sittings_[loan_id] = {.state = State::running, .wish = wish};
    if (work_->page) sittings_[loan_id].screen = work_->page->address();
    thread_ = std::thread([this, work = *prepared] { this->work(*work); });
  }
  publish(loan_id);
  return {};
}

Result<void> RunControl::resume(store::Id loan, const RunWish& wish) {
  RunWish used = wish;
  {
    const std::lock_guard lock(mutex_);
    const auto sitting = sittings_.find(loan);
    if (sitting != sittings_.end() && sitting->second.state == State::paused) used = sitting->second.wish;
  }
  // What is finished by now is not repeated because it was asked for before the pause.
  used.again = wish.again;
  return start(loan, used);
}

Result<void> RunControl::tell(store::Id loan, State state) {
  {
    const std::lock_guard lock(mutex_);
    if (loan_ != loan || !work_) return nothing_runs(loan);
    auto& sitting = sittings_[loan];
    // Stopping goes before everything else.
    if (sitting.state != State::stopping) sitting.state = state;
    stop_ = true;
    work_->dialogue.stop();
  }
  publish(loan);
  return {};
}

Result<void> RunControl::pause(store::Id loan) {
  {
    const std::lock_guard lock(mutex_);
    const auto sitting = sittings_.find(loan);
    if (sitting != sittings_.end() && sitting->second.state == State::paused) return {};
  }
  return tell(loan, State::pausing);
}

Result<void> RunControl::skip(store::Id loan) {
  return tell(loan, State::skipping);
}

Result<void> RunControl::stop(store::Id loan) {
  {
    const std::lock_guard lock(mutex_);
    const auto sitting = sittings_.find(loan);
    if (loan_ != loan && sitting != sittings_.end() && sitting->second.state == State::paused) {
      sitting->second.state = State::idle;
      return {};
    }
  }
  return tell(loan, State::stopping);
}

Result<void> RunControl::answer(store::Id loan, int number, const std::string& text) {
  std::shared_ptr<Work> work;
  {
    const std::lock_guard lock(mutex_);
    if (loan_ != loan || !work_) return nothing_runs(loan);
    work = work_;
  }
  if (auto taken = work->dialogue.answer(number, text); !taken) return taken;
  // Who looks at the state now must not be asked the same again.
  const std::lock_guard lock(mutex_);
  auto& prompt = sittings_[loan].prompt;
  if (prompt && prompt->number == number) prompt.reset();
  return {};
}

std::optional<store::Id> RunControl::running() const {
  const std::lock_guard lock(mutex_);
  return work_ ? std::optional(loan_) : std::nullopt;
}

Result<report::Json> RunControl::state(const store::Bench& bench, store::Id loan) const {
  const auto runs = bench.runs(loan);
  if (!runs) return tl::unexpected(runs.error());
  const bool open =
      std::ranges::any_of(*runs, [](const store::RunRecord& run) { return run.state == store::RunState::open; });
  const bool held = loan::RunLock::is_held(path_, loan);
  const std::lock_guard lock(mutex_);
  const auto sitting = sittings_.find(loan);
  const bool own = loan_ == loan;
  return state_json(sitting == sittings_.end() ? Sitting() : sitting->second, loan, open && !own, held && !own);
}

report::Json RunControl::state_json(const Sitting& sitting, store::Id loan, bool can_resume, bool elsewhere) const {
  using report::Json;
  Json runs = Json::array();
  for (const auto& [procedure, run] : sitting.runs)
    runs.push_back({{"procedure", procedure},
                    {"run", run.run},
                    {"ending", procedure::name_of(run.ending)},
                    {"readings", run.readings},
                    {"taken", run.taken},
                    {"spent_s", run.spent.s},
                    {"resumed", run.resumed}});
  return {{"loan", loan},
          {"state", name_of(sitting.state)},
          {"can_resume", can_resume},
          {"elsewhere", elsewhere},
          {"progress", sitting.progress ? *sitting.progress : Json(nullptr)},
          {"prompt", sitting.prompt
                         ? Json{{"loan", loan}, {"number", sitting.prompt->number}, {"text", sitting.prompt->text}}
                         : Json(nullptr)},
          {"screen", sitting.screen.empty() ? Json(nullptr) : Json(sitting.screen)},
          {"finished", sitting.finished},
          {"runs", std::move(runs)},
          {"skipped", sitting.skipped},
          {"to_record", sitting.to_record},
          {"problem", sitting.problem ? problem_json(*sitting.problem, path_) : Json(nullptr)}};
}

void RunControl::publish(store::Id loan) {
  std::string line;
  {
    const std::lock_guard lock(mutex_);
    const auto& sitting = sittings_[loan];
    const bool own = loan_ == loan;
    // A sitting that has just ended before its plan did has left a run open.
    line = state_json(sitting, loan, !own && !sitting.finished, false).dump();
  }
  hub_.publish("run", line);
}

}  // namespace provenit::server
