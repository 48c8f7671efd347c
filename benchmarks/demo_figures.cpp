// The demo loan (Tern 32 and its meter, simulated; invented), carried through in a bench of its own, and its report
// opened in Chromium.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include "figure.h"
#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/evaluation/verdict.h"
#include "provenit/loan/loan.h"
#include "provenit/report/html.h"

namespace {

using namespace provenit;

class NoClock final : public Clock {
 public:
  [[nodiscard]] Timestamp now() const override { return {}; }
  void wait(Seconds /*span*/) override {}
};

template <class T>
T must(Result<T> result) {
  if (result) return std::move(*result);
  fmt::print(stderr, "{}\n", result.error().text());
  std::exit(2);
}

struct DemoLoan {
  double seconds = 0;       ///< machine time of run and evaluation
  int unanswered = 0;       ///< questions without a finding
  int without_verdict = 0;  ///< questions with a limit and no verdict
  int questions = 0;
  int console = -1;  ///< messages, errors and requests of the report's page in Chromium; -1: it could not be opened
  int axe = -1;      ///< accessibility violations of level serious or above
};

/// Opens the page at every width and in both themes (web/tests/problems.mjs).
void look_at(const std::string& html, const std::filesystem::path& folder, DemoLoan& out) {
  const auto path = (folder / "report.html").string();
  if (!write_file(path, html)) return;
  FILE* pipe = popen(("cd '" PROVENIT_WEB_BUILD "' && node tests/problems.mjs '" + path + "'").c_str(), "r");
  if (pipe == nullptr) return;
  std::array<char, 256> line{};
  while (std::fgets(line.data(), line.size(), pipe) != nullptr) {
    const std::string_view text(line.data());
    if (text.starts_with("CONSOLE ")) out.console = static_cast<int>(parse_integer(text.substr(8)).value_or(-1));
    if (text.starts_with("AXE ")) out.axe = static_cast<int>(parse_integer(text.substr(4)).value_or(-1));
  }
  pclose(pipe);
}

DemoLoan run_demo() {
  const auto folder = std::filesystem::temp_directory_path() / ("provenit_demo_figures_" + std::to_string(getpid()));
  std::filesystem::create_directories(folder);
  DemoLoan out;
  {
    const Timestamp start = must(parse_iso8601("2026-11-25T09:00:00Z"));
    auto bench = must(store::Bench::create((folder / "tern.bench").string(), "Tern 32", "invented", start));
    store::DisplayRecord display{.name = "Tern 32"};
    display.details = {{"simulated", "tern-32"}, {"claimed_peak_cdm2", 1400}};
    store::InstrumentRecord meter{.name = "Simulated meter", .kind = "simulated"};
    meter.certificate.zero_offset_standard_cdm2 = 0.0002;
    store::LoanRecord loan{.display = must(bench.put(display)),
                           .instrument = must(bench.put(meter)),
                           .room = must(bench.put(store::RoomRecord{.name = "room", .surround_cdm2 = 5})),
                           .starts = start,
                           .ends = start + Seconds{4 * 3600},
                           .seed = 32};
    loan.id = must(bench.put(loan));
    for (const char* name : {"claims-tern-32", "itu-r-bt.2100-3-reference-display", "ebu-tech-3320-v4.1"})
      for (auto q : must(evaluation::find_requirement_set(name, read_file)).questions) {
        q.loan = loan.id;
        must(bench.put(q));
      }
    const auto began = std::chrono::steady_clock::now();
    const auto plan = must(loan::make_plan(bench, loan, start, std::nullopt));
    NoClock clock;
    const auto devices = must(loan::open_devices(bench, loan, {.machine_clock = &clock}));
    must(loan::run_plan(bench, loan, plan, *devices, false, {}));
    const auto evaluation = must(loan::evaluate(bench, loan, start, "benchmark"));
    out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
    const auto document = must(report::Document::build(must(loan::contents_of(bench, loan, start, "benchmark"))));
    look_at(must(report::html(document)), folder, out);
    for (const auto& q : evaluation.questions) {
      ++out.questions;
      const bool answered = std::ranges::any_of(
          evaluation.findings, [&](const store::FindingRecord& f) { return evaluation::answers(f, q); });
      out.unanswered += !answered;
      const bool decided_upon =
          std::ranges::find(evaluation.verdicts, q.id, &store::VerdictRecord::question) != evaluation.verdicts.end();
      out.without_verdict += (q.lower || q.upper) && !decided_upon;
    }
  }
  std::filesystem::remove_all(folder);
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  using provenit::bench::Figure;
  const auto compute = [] {
    const auto demo = run_demo();
    return std::vector<Figure>{
        {"demo_loan_time", demo.seconds, "s", "< 30", demo.seconds < 30},
        {"demo_questions_without_finding", static_cast<double>(demo.unanswered), "1",
         fmt::format("0 of {}", demo.questions), demo.unanswered == 0},
        {"demo_limits_without_verdict", static_cast<double>(demo.without_verdict), "1", "0", demo.without_verdict == 0},
        {"demo_report_console_messages", static_cast<double>(demo.console), "1", "0", demo.console == 0},
        {"demo_report_axe_serious", static_cast<double>(demo.axe), "1", "0", demo.axe == 0}};
  };
  return provenit::bench::run(argc, argv,
                              {{{"demo_loan_time", "demo_questions_without_finding", "demo_limits_without_verdict",
                                 "demo_report_console_messages", "demo_report_axe_serious"},
                                compute}});
}
