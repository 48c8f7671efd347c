// The `provenit` command: parse, call one library function, print.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <csignal>
#include <exception>
#include <thread>

#include "verbs.h"

namespace provenit::cli {

CLI::App* add_verb(Command& command, const std::string& name, const std::string& what, const std::string& examples) {
  auto* verb = command.app.add_subcommand(name, what);
  verb->add_flag("--json", command.output.json, "print one JSON document instead of text");
  // Sub-verbs take --json as well, wherever it stands.
  verb->fallthrough();
  if (!examples.empty()) verb->footer("\nExamples:\n" + examples);
  return verb;
}

Result<store::LoanRecord> pick_loan(const store::Bench& bench, store::Id id) {
  if (id != 0) return bench.loan(id);
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  if (loans->empty())
    return fail(ErrorCode::not_found, "the bench has no loan yet",
                "Add one: provenit describe loan " + bench.path() + " --hours 48", {.file = bench.path()});
  return loans->back();
}

void add_loan_choice(CLI::App& verb, LoanChoice& choice) {
  verb.add_option("bench", choice.bench, "bench file")->required();
  verb.add_option("--loan", choice.loan, "loan number, if not the newest");
}

Result<OpenLoan> open_loan(const LoanChoice& choice) {
  auto bench = store::Bench::open(choice.bench);
  if (!bench) return tl::unexpected(bench.error());
  auto loan = pick_loan(*bench, choice.loan);
  if (!loan) return tl::unexpected(loan.error());
  return OpenLoan{std::move(*bench), std::move(*loan)};
}

namespace {
volatile std::sig_atomic_t g_stop = 0;
}  // namespace

void stop_on_signals() {
  std::signal(SIGINT, [](int) { g_stop = 1; });
  std::signal(SIGTERM, [](int) { g_stop = 1; });
}

bool stop_requested() {
  return g_stop != 0;
}

Timestamp machine_time() {
  const auto since_epoch = std::chrono::system_clock::now().time_since_epoch();
  return {std::chrono::duration<double>(since_epoch).count()};
}

void MachineClock::wait(Seconds span) {
  if (span.s > 0) std::this_thread::sleep_for(std::chrono::duration<double>(span.s));
}

namespace {

constexpr const char* kOrder =
    "A loan from first to last:\n"
    "  provenit new tern.bench --title \"Tern 32\" --evaluator \"Saltmarsh Display Lab\"\n"
    "  provenit describe display tern.bench --name \"Tern 32\" --simulated tern-32\n"
    "  provenit describe instrument tern.bench --name \"Meter A\" --kind simulated\n"
    "  provenit describe room tern.bench --name \"Suite 2\" --surround 5\n"
    "  provenit describe loan tern.bench --hours 4\n"
    "  provenit questions tern.bench --set claims-tern-32 --set ebu-tech-3320-v4.1\n"
    "  provenit plan tern.bench\n"
    "  provenit run tern.bench\n"
    "  provenit evaluate tern.bench\n"
    "  provenit report tern.bench --out tern-report\n"
    "\n"
    "Cautions: bright signals can hurt dark-adapted eyes and leave traces on a panel; announce them and end on black.\n"
    "Never open a powered display. Local safety rules and licensed practice come first.";

int run(int argc, char** argv) {
  CLI::App app{"Provenit: one bench for the evaluation of HDR mastering displays."};
  app.name("provenit");
  app.set_version_flag("--version", "provenit " PROVENIT_VERSION);
  app.require_subcommand(1);
  app.footer(kOrder);
  Output output;
  Command command{app, output, {}};
  add_new(command);
  add_describe(command);
  add_questions(command);
  add_plan(command);
  add_signal(command);
  add_picture(command);
  add_show(command);
  add_run(command);
  add_follow(command);
  add_balance(command);
  add_correct(command);
  add_import(command);
  add_attach(command);
  add_evaluate(command);
  add_match(command);
  add_report(command);
  add_status(command);
  add_survey(command);
  add_merge(command);
  add_titles(command);
  add_moments(command);
  add_look(command);
  add_forecast(command);
  add_shelf(command);
  add_publish(command);
  add_farm(command);
  add_serve(command);
  add_selfcheck(command);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? kDone : kRefused;
  }
  return command.action ? command.action() : kRefused;
}

}  // namespace
}  // namespace provenit::cli

int main(int argc, char** argv) {
  try {
    return provenit::cli::run(argc, argv);
  } catch (const std::exception& e) {
    // Only what ends the operation arrives here, such as no memory.
    fmt::print(stderr, "provenit: {}\n", e.what());
    return provenit::cli::kStopped;
  }
}
