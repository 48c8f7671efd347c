// provenit signal: the signals of a procedure as pictures, to be shown by any player that sends code values unchanged.
#include "provenit/signal/signal.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>

#include "provenit/loan/loan.h"
#include "provenit/signal/png16.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct SignalOptions : LoanChoice {
  std::string procedure, out;
  int width = 3840, height = 2160;
};

int write_signals(const Output& output, const SignalOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto signals = loan::signals_of(bench, loan, o.procedure);
  if (!signals) return output.fail(signals.error());
  std::error_code ec;
  std::filesystem::create_directories(o.out, ec);
  if (ec) return output.fail({ErrorCode::io, "cannot make the folder: " + ec.message(), {}, {.file = o.out}});
  Table table({"file", "step", "signal", "meter"});
  auto document = nlohmann::ordered_json::array();
  for (std::size_t i = 0; i < signals->size(); ++i) {
    const auto& [step, signal, placement, local_dimming] = (*signals)[i];
    const auto path = fmt::format("{}/{:02d}-{}.png", o.out, i + 1, step);
    if (auto written = signal::write_png16(signal, {o.width, o.height}, path); !written)
      return output.fail(written.error());
    table.add({path, step, describe(signal), describe(placement)});
    document.push_back({{"file", path},
                        {"step", step},
                        {"signal", to_json(signal)},
                        {"placement", to_json(placement)},
                        {"local_dimming", name_of(local_dimming)}});
  }
  output.say(table.text(), document);
  return kDone;
}

}  // namespace

void add_signal(Command& command) {
  const auto o = std::make_shared<SignalOptions>();
  auto* verb = add_verb(command, "signal", "write the signals of a procedure as 16-bit PNG, exact to the code value",
                        "provenit signal tern.bench --procedure greyscale --out signals");
  add_loan_choice(*verb, *o);
  verb->add_option("--procedure", o->procedure, "whose signals")->required();
  verb->add_option("--out", o->out, "folder to write into; made if missing")->required();
  verb->add_option("--width", o->width, "pixels across")->check(CLI::Range(64, 8192));
  verb->add_option("--height", o->height, "pixels down")->check(CLI::Range(64, 8192));
  verb->callback([&command, o] { command.action = [&command, o] { return write_signals(command.output, *o); }; });
}

}  // namespace provenit::cli
