// The thread of a run: takes the readings, tells how far it is, evaluates at the end.
#include "run_work.h"

#include "provenit/loan/planned.h"

namespace provenit::server {
namespace {

constexpr std::chrono::milliseconds kProgressEvery{100};

}  // namespace

void RunControl::work(Work& work) {
  watcher_.expect_own_run(true);
  const auto outcome = [&]() -> Result<void> {
    try {
      return sit(work);
    } catch (const std::exception& e) {  // only what ends the operation arrives here, such as no memory
      return fail(ErrorCode::io, e.what(), "What was read is kept: resume the run.");
    }
  }();
  end(work, outcome);
}

/// Runs the plan; after a skip, what is left of it. Errors: those of run_plan.
Result<void> RunControl::sit(Work& work) {
  if (work.wish.task) return carry_out(work);
  const auto id = work.loan.id;
  const loan::RunHooks hooks{.begins =
                                 [&](const procedure::PlannedRun& run, std::size_t index, std::size_t) {
                                   work.current = index;
                                   const auto* procedure = procedure::find_procedure(run.procedure);
                                   report::Json json = {{"loan", id},
                                                        {"procedure", run.procedure},
                                                        {"title", procedure ? procedure->title() : run.procedure},
                                                        {"index", work.dropped + index},
                                                        {"count", work.count},
                                                        {"phase", "starting"},
                                                        {"step", ""},
                                                        {"why", ""},
                                                        {"signal", ""},
                                                        {"done", 0},
                                                        {"expected_total", run.readings},
                                                        {"left_s", run.time.s}};
                                   begin(work, std::move(json));
                                 },
                             .progress = [&](const procedure::Progress& p) { progress(work, p); },
                             .stop_requested = [this] { return stop_.load(); }};
  for (;;) {
    auto outcome = loan::run_plan(work.bench, work.loan, work.plan, *work.devices, work.wish.again, hooks);
    if (!outcome) return tl::unexpected(outcome.error());
    take_outcome(work, *outcome);
    bool skip = false;
    {
      const std::lock_guard lock(mutex_);
      auto& state = sittings_[id].state;
      skip = outcome->ending == procedure::Ending::stopped && state == State::skipping;
      if (skip) {
        state = State::running;
        stop_ = false;
        work.dialogue.go_on();
      }
    }
    if (!skip) break;
    const auto gone = work.current + 1;
    work.plan.runs.erase(work.plan.runs.begin(), work.plan.runs.begin() + static_cast<std::ptrdiff_t>(gone));
    work.dropped += gone;
    work.current = 0;
    publish(id);
  }
  return evaluate(work);
}

/// The task of a wish, as one run. Errors: those that it gives.
Result<void> RunControl::carry_out(Work& work) {
  const auto& task = *work.wish.task;
  begin(work, {{"loan", work.loan.id},
               {"procedure", task.procedure},
               {"title", task.title},
               {"index", 0},
               {"count", 1},
               {"phase", "starting"},
               {"step", ""},
               {"why", ""},
               {"signal", ""},
               {"done", 0},
               {"expected_total", 0},
               {"left_s", 0}});
  const auto outcome = task.run(work.bench, work.loan, *work.devices,
                                {.progress = [&](const procedure::Progress& p) { progress(work, p); },
                                 .stop_requested = [this] { return stop_.load(); }});
  if (!outcome) return tl::unexpected(outcome.error());
  take_outcome(work, {.runs = {{.procedure = task.procedure, .outcome = *outcome}},
                      .finished = outcome->ending == procedure::Ending::complete,
                      .ending = outcome->ending});
  return evaluate(work);
}

void RunControl::begin(Work& work, report::Json progress) {
  {
    const std::lock_guard lock(mutex_);
    sittings_[work.loan.id].progress = std::move(progress);
  }
  publish(work.loan.id);
}

Result<void> RunControl::evaluate(Work& work) {
  const auto id = work.loan.id;
  if (!work.wish.evaluate) return {};
  const auto evaluated = loan::evaluate(work.bench, work.loan, machine_time(), software_);
  if (!evaluated && evaluated.error().code != ErrorCode::not_found) return tl::unexpected(evaluated.error());
  if (evaluated) hub_.publish("changed", report::Json{{"what", "findings"}, {"loan", id}, {"by", "server"}}.dump());
  return {};
}

void RunControl::take_outcome(Work& work, const loan::LoanOutcome& outcome) {
  if (work.page)
    for (const auto& run : outcome.runs) {
      std::string text = "signals shown on a page, each read back; frames at least 0.2 s apart; started after: ";
      for (const auto& caution : work.cautions) text += caution + ' ';
      (void)work.bench.add_event({.run = run.outcome.run, .at = machine_time(), .kind = "screen", .text = text});
    }
  const std::lock_guard lock(mutex_);
  auto& sitting = sittings_[work.loan.id];
  for (const auto& run : outcome.runs) {
    sitting.runs.push_back(run);
    if (run.outcome.cause) sitting.problem = run.outcome.cause;
  }
  for (const auto& id : outcome.skipped) sitting.skipped.push_back(id);
  for (const auto& id : outcome.to_record) sitting.to_record.push_back(id);
  sitting.finished = outcome.finished && work.dropped == 0;
}

void RunControl::end(Work& work, const Result<void>& outcome) {
  const auto id = work.loan.id;
  work.devices.reset();
  work.page.reset();
  work.lock.reset();
  {
    const std::lock_guard lock(mutex_);
    auto& sitting = sittings_[id];
    sitting.state = sitting.state == State::pausing ? State::paused : State::idle;
    if (sitting.finished) sitting.state = State::idle;
    sitting.progress.reset();
    sitting.prompt.reset();
    sitting.screen.clear();
    if (!outcome) sitting.problem = outcome.error();
    loan_ = 0;
    work_.reset();
  }
  watcher_.expect_own_run(false);
  watcher_.look();
  publish(id);
}

void RunControl::progress(Work& work, const procedure::Progress& p) {
  if (p.phase == procedure::Progress::Phase::stored) watcher_.look();
  const auto now = std::chrono::steady_clock::now();
  std::string line;
  {
    const std::lock_guard lock(mutex_);
    auto& progress = sittings_[work.loan.id].progress;
    if (!progress) return;
    auto& json = *progress;
    json["phase"] = procedure::name_of(p.phase);
    json["step"] = p.step != nullptr ? p.step->key : "";
    json["why"] = p.step != nullptr ? p.step->why : "";
    json["signal"] = p.signal_text;
    json["done"] = p.done;
    json["expected_total"] = p.expected_total;
    json["left_s"] = p.left.s;
    // A simulated run is faster than anybody can look.
    if (now - work.told < kProgressEvery) return;
    line = json.dump();
  }
  work.told = now;
  hub_.publish("progress", line);
}

}  // namespace provenit::server
