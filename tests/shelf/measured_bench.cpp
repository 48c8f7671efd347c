#include "measured_bench.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <stdexcept>

#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/loan/devices.h"
#include "provenit/loan/loan.h"
#include "provenit/loan/planned.h"
#include "provenit/simulated/clock.h"

namespace provenit::shelf {
namespace {

void run_and_evaluate(store::Bench& bench, const store::LoanRecord& loan, const std::vector<std::string>& procedures,
                      bool again) {
  auto plan = loan::make_plan(bench, loan, loan.starts, std::nullopt);
  ASSERT_TRUE(plan) << plan.error().text();
  ASSERT_TRUE(loan::keep_only(*plan, procedures));
  simulated::SimulatedClock clock(loan.starts);
  const auto devices = loan::open_devices(bench, loan, {.machine_clock = &clock});
  ASSERT_TRUE(devices) << devices.error().text();
  const auto outcome = loan::run_plan(bench, loan, *plan, **devices, again, {});
  ASSERT_TRUE(outcome) << outcome.error().text();
  ASSERT_TRUE(loan::evaluate(bench, loan, loan.ends, kSoftware));
}

}  // namespace

ScratchFolder::ScratchFolder() {
  auto name = (std::filesystem::temp_directory_path() / "provenit_shelf_XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no scratch folder");
  path_ = name;
}
ScratchFolder::~ScratchFolder() {
  std::error_code ec;
  std::filesystem::remove_all(path_, ec);
}

void measure(const std::string& path, const std::string& evaluator, const MeasuredLoan& what) {
  auto bench = store::Bench::create(path, what.display, evaluator, what.starts);
  ASSERT_TRUE(bench) << bench.error().text();
  store::DisplayRecord display{.name = what.display, .technology = "invented"};
  display.encoding.bits = 12;
  display.details = {{"simulated", what.simulated}, {"serial", what.serial}};
  const store::InstrumentRecord instrument{.name = "Meter A", .kind = "simulated", .details = {{"seed", 7}}};
  store::LoanRecord loan{.display = bench->put(display).value(),
                         .instrument = bench->put(instrument).value(),
                         .room = bench->put(store::RoomRecord{.name = "Suite 2", .surround_cdm2 = 5}).value(),
                         .starts = what.starts,
                         .ends = what.starts + Seconds{4 * 3600},
                         .seed = what.seed};
  loan.id = bench->put(loan).value();
  const auto sets = what.sets.empty() ? std::vector{"claims-" + what.simulated} : what.sets;
  for (const auto& name : sets) {
    const auto set = evaluation::find_requirement_set(name, read_file);
    ASSERT_TRUE(set) << set.error().text();
    const auto questions = loan::questions_of(*bench, loan, *set);
    ASSERT_TRUE(questions) << questions.error().text();
    for (const auto& q : *questions) ASSERT_TRUE(bench->put(q));
  }
  run_and_evaluate(*bench, loan, what.procedures, false);
}

void measure_more(const std::string& path, const std::string& procedure) {
  auto bench = store::Bench::open(path);
  ASSERT_TRUE(bench) << bench.error().text();
  run_and_evaluate(*bench, bench->loans().value().front(), {procedure}, true);
}

}  // namespace provenit::shelf
