// provenit run: takes the readings of the plan. Ctrl-C stops between two readings; the same command goes on later.
#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <iostream>
#include <memory>

#include "provenit/loan/loan.h"
#include "provenit/loan/planned.h"
#include "provenit/loan/run_lock.h"
#include "screen_choice.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct RunOptions : LoanChoice {
  ScreenChoice screen;
  std::string pictures;
  std::vector<std::string> procedures;
  double hours = 0;
  bool again = false;
};

/// One line on stderr that is written over; a line per reading where stderr is no terminal would drown a log, so there
/// only each run's beginning and end are told.
class ProgressLine {
 public:
  ProgressLine() : terminal_(isatty(STDERR_FILENO) != 0) {}

  void begins(const procedure::PlannedRun& run, std::size_t index, std::size_t count) {
    clear();
    fmt::print(stderr, "[{}/{}] {} ({} expected)\n", index + 1, count, run.procedure, duration_text(run.time.s));
    const auto* procedure = procedure::find_procedure(run.procedure);
    if (procedure != nullptr && !procedure->caution().empty())
      fmt::print(stderr, "Caution: {}\n", procedure->caution());
  }

  void show(const procedure::Progress& p) {
    if (!terminal_) return;
    std::string last;
    if (p.last != nullptr) last = fmt::format(" | last {:.4g} cd/m2", p.last->measurement.xyz.Y);
    const int share = p.expected_total > 0 ? std::min(20, 20 * p.done / p.expected_total) : 0;
    const auto line = fmt::format("[{}{}] {}/{} left {} | {}: {}{}", std::string(share, '#'),
                                  std::string(20 - share, '.'), p.done, p.expected_total, duration_text(p.left.s),
                                  procedure::name_of(p.phase), p.step != nullptr ? p.step->why : p.signal_text, last);
    fmt::print(stderr, "\r\033[K{}", line.substr(0, 160));
    std::fflush(stderr);
  }

  void clear() {
    if (terminal_) fmt::print(stderr, "\r\033[K");
  }

 private:
  bool terminal_;
};

/// The screen of --page, --direct or --output, opened for the display's encoding, and the cautions it was opened with.
struct RunScreen {
  std::unique_ptr<show::Screen> screen;
  std::unique_ptr<show::ScreenPresenter> presenter;
  std::vector<std::string> cautions;
};

Result<RunScreen> run_screen(const OpenLoan& open, const procedure::Plan& plan, const RunOptions& o) {
  RunScreen out;
  if (!o.screen.any()) return out;
  const auto display = open.bench.display(open.loan.display);
  if (!display) return tl::unexpected(display.error());
  auto cautions = loan::cautions_of(open.bench, open.loan, plan);
  if (!cautions) return tl::unexpected(cautions.error());
  out.cautions = std::move(*cautions);
  out.cautions.emplace_back(kScreenCaution);
  for (const auto& text : out.cautions) fmt::print(stderr, "Caution: {}\n", text);
  auto screen = open_screen(o.screen, display->encoding, out.cautions, false);
  if (!screen) return tl::unexpected(screen.error());
  out.screen = std::move(*screen);
  out.presenter = std::make_unique<show::ScreenPresenter>(*out.screen);
  return out;
}

/// Keeps with each run on what it was shown, and that the cautions stood before it.
Result<void> log_screen(store::Bench& bench, const loan::LoanOutcome& outcome, const RunScreen& shown, bool page) {
  if (!shown.screen) return {};
  std::string text = page ? "signals shown on a page, each read back; frames at least 0.2 s apart; started after: "
                          : "signals shown by direct output; frames at least 0.2 s apart; cautions told before: ";
  for (const auto& caution : shown.cautions) text += caution + ' ';
  for (const auto& run : outcome.runs)
    if (auto kept = bench.add_event({.run = run.outcome.run, .at = machine_time(), .kind = "screen", .text = text});
        !kept)
      return kept;
  return {};
}

int report_outcome(const Output& output, const RunOptions& o, const loan::LoanOutcome& outcome) {
  Table table({"procedure", "ended", "readings", "taken now", "time"});
  nlohmann::ordered_json document{
      {"finished", outcome.finished}, {"skipped", outcome.skipped}, {"to_record", outcome.to_record}};
  auto& runs = document["runs"] = nlohmann::ordered_json::array();
  const Error* cause = nullptr;
  for (const auto& [procedure, run] : outcome.runs) {
    table.add({procedure, name_of(run.ending), std::to_string(run.readings), std::to_string(run.taken),
               duration_text(run.spent.s)});
    runs.push_back({{"procedure", procedure},
                    {"run", run.run},
                    {"ending", name_of(run.ending)},
                    {"readings", run.readings},
                    {"taken", run.taken},
                    {"events", run.events},
                    {"spent_s", run.spent.s},
                    {"resumed", run.resumed}});
    if (run.cause) cause = &*run.cause;
  }
  std::string text = table.text();
  if (!outcome.skipped.empty())
    text += fmt::format("{} finished before; --again repeats them.\n", outcome.skipped.size());
  for (const auto& id : outcome.to_record)
    text += fmt::format("To be recorded by hand: {} (docs/methods/{}.md), then `provenit attach`.\n", id, id);
  text += outcome.finished ? fmt::format("Next: provenit evaluate {}\n", o.bench)
                           : fmt::format("Not finished; what was read is kept. To go on: provenit run {}\n", o.bench);
  output.say(text, document);
  if (cause != nullptr) fmt::print(stderr, "provenit: {}\n", cause->text());
  return outcome.finished ? kDone : kStopped;
}

int run(const Output& output, const RunOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto available = o.hours > 0 ? std::optional(Seconds{o.hours * 3600}) : std::nullopt;
  auto plan = loan::make_plan(bench, loan, machine_time(), available);
  if (!plan) return output.fail(plan.error());
  if (auto kept = loan::keep_only(*plan, o.procedures); !kept) return output.fail(kept.error());

  MachineClock clock;
  const auto lock = loan::RunLock::take(bench.path(), loan.id);
  if (!lock) return output.fail(lock.error());
  for (const auto& text : loan::usual_cautions()) fmt::print(stderr, "Caution: {}\n", text);
  stop_on_signals();
  const auto screen = run_screen(*open, *plan, o);
  if (!screen) return output.fail(screen.error());
  const auto devices = loan::open_devices(bench, loan,
                                          {.machine_clock = &clock,
                                           .in = &std::cin,
                                           .out = &std::cerr,
                                           .picture_folder = o.pictures,
                                           .screen = screen->presenter.get()});
  if (!devices) return output.fail(devices.error());
  ProgressLine line;
  const loan::RunHooks hooks{
      .begins = [&](const auto& planned, std::size_t index, std::size_t count) { line.begins(planned, index, count); },
      .progress = [&](const procedure::Progress& p) { line.show(p); },
      .stop_requested = stop_requested};
  const auto outcome = loan::run_plan(bench, loan, *plan, **devices, o.again, hooks);
  line.clear();
  if (!outcome) return output.fail(outcome.error());
  if (auto logged = log_screen(bench, *outcome, *screen, o.screen.by_page()); !logged)
    return output.fail(logged.error());
  return report_outcome(output, o, *outcome);
}

}  // namespace

void add_run(Command& command) {
  const auto o = std::make_shared<RunOptions>();
  auto* verb =
      add_verb(command, "run", "take the readings of the plan; stop with Ctrl-C and go on with the same command",
               "provenit run tern.bench\n"
               "provenit run tern.bench --procedure black_level --again\n"
               "provenit run tern.bench --pictures signals    (signals shown by hand, written as 16-bit PNG)\n"
               "provenit run tern.bench --output HDMI-A-1    (signals shown by this machine; --page for SDR)");
  add_loan_choice(*verb, *o);
  verb->add_option("--procedure", o->procedures, "only this procedure; may be repeated");
  verb->add_option("--hours", o->hours, "plan for this long instead of what is left of the loan")
      ->check(CLI::PositiveNumber);
  verb->add_option("--pictures", o->pictures, "folder for pictures of signals that the operator shows");
  add_screen_choice(*verb, o->screen);
  verb->add_flag("--again", o->again, "repeat procedures that are finished");
  verb->callback([&command, o] { command.action = [&command, o] { return run(command.output, *o); }; });
}

}  // namespace provenit::cli
