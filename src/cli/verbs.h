#pragma once
// One function per verb: it adds the verb's options to the command and, when the verb is used, sets `action`.
#include <functional>
#include <string>
#include <vector>

#include "output.h"
#include "provenit/base/clock.h"
#include "provenit/store/bench.h"

namespace CLI {
class App;
}

namespace provenit::cli {

struct Command {
  CLI::App& app;
  Output& output;
  std::function<int()> action;  ///< what main runs after parsing; gives the exit code
};

void add_new(Command& command);
void add_describe(Command& command);
void add_questions(Command& command);
void add_status(Command& command);
void add_plan(Command& command);
void add_run(Command& command);
void add_follow(Command& command);
void add_balance(Command& command);
void add_correct(Command& command);
void add_import(Command& command);
void add_attach(Command& command);
void add_evaluate(Command& command);
void add_match(Command& command);
void add_report(Command& command);
void add_signal(Command& command);
void add_picture(Command& command);
void add_show(Command& command);
void add_survey(Command& command);
void add_merge(Command& command);
void add_titles(Command& command);
void add_moments(Command& command);
void add_look(Command& command);
void add_forecast(Command& command);
void add_shelf(Command& command);
void add_publish(Command& command);
void add_farm(Command& command);
void add_serve(Command& command);
void add_selfcheck(Command& command);

/// A verb with its bench argument, --json and examples. `examples` is shown under the options of --help.
CLI::App* add_verb(Command& command, const std::string& name, const std::string& what, const std::string& examples);
/// Which loan of which bench a verb works on.
struct LoanChoice {
  std::string bench;
  store::Id loan = 0;  ///< 0: the newest
};
/// The bench argument and the --loan option.
void add_loan_choice(CLI::App& verb, LoanChoice& choice);

struct OpenLoan {
  store::Bench bench;
  store::LoanRecord loan;
};
/// Errors: those of Bench::open and pick_loan.
[[nodiscard]] Result<OpenLoan> open_loan(const LoanChoice& choice);
/// The loan of that id, or with 0 the newest one. Errors: not_found with what to do.
[[nodiscard]] Result<store::LoanRecord> pick_loan(const store::Bench& bench, store::Id id);
/// "provenit 0.1.0": goes into whatever this program computes.
inline constexpr const char* kSoftware = "provenit " PROVENIT_VERSION;
/// From now on Ctrl-C and a request to end only ask: what is under way comes to a place where nothing is lost.
void stop_on_signals();
[[nodiscard]] bool stop_requested();
/// Machine's time now.
[[nodiscard]] Timestamp machine_time();
/// That time, waited for where it must be.
class MachineClock final : public Clock {
 public:
  [[nodiscard]] Timestamp now() const override { return machine_time(); }
  void wait(Seconds span) override;
};

}  // namespace provenit::cli
