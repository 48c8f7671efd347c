// big_bench BENCH SURVEY: makes a bench with one evaluated loan large, for web/tests/speed.mjs: 20 loans, 100,000
// readings, and a survey of 200,000 frames. Readings are those of the first loan over again, the frames those of the
// survey; everything in it is as real as these.
#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <utility>
#include <vector>

#include "provenit/loan/loan.h"
#include "provenit/programme/bench.h"
#include "provenit/store/bench.h"

namespace {

using namespace provenit;  // NOLINT(google-build-using-namespace): a program of its own

constexpr int kLoans = 20;
constexpr std::int64_t kReadings = 100'000;
constexpr std::int64_t kFrames = 200'000;

template <class T>
T must(Result<T> result) {
  if (!result) {
    fmt::print(stderr, "{}\n", result.error().text());
    std::exit(1);
  }
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

struct Run {
  store::RunRecord record;
  std::vector<store::ReadingRecord> readings;
};

/// The run once more, for a loan.
void again(store::Bench& bench, store::Id loan, const Run& of) {
  auto record = of.record;
  record.id = 0;
  record.loan = loan;
  const auto run = must(bench.begin_run(record));
  auto readings = of.readings;
  for (auto& r : readings) {
    r.id = 0;
    r.run = run;
  }
  must(bench.add_readings(readings));
  must(bench.end_run(run, store::RunState::finished, of.record.ended.value_or(of.record.started)));
}

void more_loans(store::Bench& bench) {
  const auto first = must(bench.loans()).at(0);
  const auto questions = must(bench.questions(first.id));
  std::vector<Run> runs;
  std::int64_t per_round = 0;
  for (auto& record : must(bench.runs(first.id))) {
    if (record.state != store::RunState::finished) continue;
    runs.push_back({record, must(bench.readings(record.id))});
    per_round += static_cast<std::int64_t>(runs.back().readings.size());
  }
  if (per_round == 0) {
    fmt::print(stderr, "the first loan has no finished run: run it first\n");
    std::exit(1);
  }
  for (int n = 1; n < kLoans; ++n) {
    auto loan = first;
    loan.id = 0;
    loan.seed += static_cast<std::uint64_t>(n);
    loan.id = must(bench.put(loan));
    for (auto q : questions) {
      q.id = 0;
      q.loan = loan.id;
      must(bench.put(q));
    }
    const auto wanted = kReadings * (n + 1) / kLoans;
    while (must(bench.reading_count()) < wanted)
      for (const auto& run : runs) again(bench, loan.id, run);
    must(loan::evaluate(bench, loan, loan.ends, "provenit benchmark"));
    fmt::print("loan {}: {} readings in the bench\n", loan.id, must(bench.reading_count()));
    std::fflush(stdout);
  }
}

void long_survey(store::Bench& bench, const std::string& path) {
  const auto small = must(programme::SurveyFile::open(path));
  const auto frames = must(small.frames());
  auto header = small.header();
  header.title = "long-" + header.title;
  header.title_frames = header.last = header.measured = kFrames;
  header.first = 0;
  const auto large = path + ".long";
  std::filesystem::remove(large);
  auto writer = must(programme::SurveyWriter::begin(large, header));
  const double step_s = 1.0 / 24;
  for (std::int64_t i = 0; i < kFrames; ++i) {
    auto frame = frames[static_cast<std::size_t>(i) % frames.size()];
    frame.figures.index = i;
    frame.figures.time_s = static_cast<double>(i) * step_s;
    must(writer.append(frame));
  }
  must(writer.finish(header));
  must(programme::move_into_bench(large, bench, must(bench.title()).created));
  fmt::print("survey of {} frames\n", kFrames);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "usage: big_bench BENCH SURVEY\n");
    return 2;
  }
  auto bench = must(store::Bench::open(argv[1]));
  more_loans(bench);
  long_survey(bench, argv[2]);
  return 0;
}
