// How long the store's queries take on a large bench: 1,000 loans, 10 million readings, 100 surveys of 200,000 frames,
// synthetic (scale_bench.h). PROVENIT_SCALE_FOLDER names a folder with 20 GB of room, in which it is made and removed
// again; PROVENIT_SCALE_SHARE (1) makes it smaller, PROVENIT_SCALE_KEEP keeps it. Without a folder nothing is measured.
//
// cold: asked for the first time over a connection, with nothing of the file in the system's memory either. warm: asked
// again. Each figure is the 95th percentile over loans drawn at random; stderr has medians and the largest.
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include "figure.h"
#include "provenit/programme/bench.h"
#include "provenit/store/bench.h"
#include "scale_bench.h"

namespace {

using namespace provenit;
using bench::Figure;
using bench::ScaleBench;
namespace fs = std::filesystem;

constexpr double kBar_ms = 50;
constexpr int kDraws = 40, kWarm = 3;
constexpr int kDrawsOfAll = 3, kWarmOfAll = 1;  ///< of queries that read everything
constexpr int kPage = 201;                      ///< readings that the page asks for at a time
constexpr int kFindingSpan = 100;               ///< readings of one finding
constexpr int kWrittenReadings = 50;

/// What a query is asked about.
struct Drawn {
  store::Id loan = 0, run = 0, reading = 0, survey = 0, newest_event = 0;
  std::int64_t position = 0;  ///< of a frame
};

struct Query {
  std::string name;
  std::function<bool(const store::Bench&, const Drawn&)> ask;
  bool reads_all = false;  ///< everything of a loan or a title by its nature: no bar
};

bool loan_overview(const store::Bench& b, const Drawn& d) {
  const auto loan = b.loan(d.loan);
  if (!loan || !b.display(loan->display) || !b.instrument(loan->instrument) || !b.room(loan->room)) return false;
  const auto runs = b.runs(d.loan);
  return runs && b.questions(d.loan) && b.latest_findings(d.loan) && b.latest_verdicts(d.loan) &&
         b.attachments(d.loan) && b.reading_counts(d.loan) &&
         std::ranges::all_of(*runs, [&](const auto& run) { return b.events(run.id).has_value(); }) &&
         b.readings(store::ReadingQuery{.loan = d.loan, .limit = -1});
}

bool all_readings(const store::Bench& b, const Drawn& d) {
  const auto runs = b.runs(d.loan);
  return runs && std::ranges::all_of(*runs, [&](const auto& run) { return b.readings(run.id).has_value(); });
}

bool all_frames(const store::Bench& b, const Drawn& d) {
  std::size_t frames = 0;
  return programme::for_each_chunk(b, d.survey,
                                   [&](auto chunk) -> Result<void> {
                                     frames += chunk.size();
                                     return {};
                                   }) &&
         frames > 0;
}

/// One line of the page's list for each loan of the bench.
bool all_loans(const store::Bench& b, const Drawn& /*d*/) {
  const auto loans = b.loans();
  return loans && std::ranges::all_of(*loans, [&](const auto& loan) {
           return b.display(loan.display) && b.questions(loan.id) && b.latest_figures(loan.id) &&
                  b.latest_verdicts(loan.id) && b.runs(loan.id) && b.reading_counts(loan.id);
         });
}

const std::vector<Query>& queries() {
  using B = store::Bench;
  static const std::vector<Query> all{
      {"title", [](const B& b, const Drawn&) { return b.title().has_value(); }},
      {"loans", [](const B& b, const Drawn&) { return b.loans().has_value(); }},
      {"displays", [](const B& b, const Drawn&) { return b.displays().has_value(); }},
      {"questions", [](const B& b, const Drawn& d) { return b.questions(d.loan).has_value(); }},
      {"runs", [](const B& b, const Drawn& d) { return b.runs(d.loan).has_value(); }},
      {"reading_counts", [](const B& b, const Drawn& d) { return b.reading_counts(d.loan).has_value(); }},
      {"reading_count", [](const B& b, const Drawn&) { return b.reading_count().has_value(); }},
      {"readings_of_run", [](const B& b, const Drawn& d) { return b.readings(d.run).has_value(); }},
      {"readings_after",
       [](const B& b, const Drawn& d) {
         return b.readings(store::ReadingQuery{.loan = d.loan, .after = d.reading, .limit = kPage}).has_value();
       }},
      {"readings_newest_of_loan",
       [](const B& b, const Drawn& d) {
         return b.readings(store::ReadingQuery{.loan = d.loan, .limit = -kPage}).has_value();
       }},
      {"readings_after_in_bench",
       [](const B& b, const Drawn& d) {
         return b.readings(store::ReadingQuery{.after = d.reading, .limit = kPage}).has_value();
       }},
      {"readings_of_finding",
       [](const B& b, const Drawn& d) {
         return b.readings(store::ReadingQuery{.after = d.reading, .up_to = d.reading + kFindingSpan}).has_value();
       }},
      {"newest", [](const B& b, const Drawn&) { return b.newest().has_value(); }},
      {"chain_hash", [](const B& b, const Drawn& d) { return b.chain_hash(d.run, 1).has_value(); }},
      {"events_of_run", [](const B& b, const Drawn& d) { return b.events(d.run).has_value(); }},
      {"events_after", [](const B& b, const Drawn& d) { return b.events_after(d.newest_event - 20).has_value(); }},
      {"latest_findings", [](const B& b, const Drawn& d) { return b.latest_findings(d.loan).has_value(); }},
      {"latest_figures", [](const B& b, const Drawn& d) { return b.latest_figures(d.loan).has_value(); }},
      {"latest_verdicts", [](const B& b, const Drawn& d) { return b.latest_verdicts(d.loan).has_value(); }},
      {"attachments", [](const B& b, const Drawn& d) { return b.attachments(d.loan).has_value(); }},
      {"corrections", [](const B& b, const Drawn& d) { return b.corrections(d.loan).has_value(); }},
      {"loan_overview", &loan_overview},
      {"surveys", [](const B& b, const Drawn&) { return b.surveys().has_value(); }},
      {"survey", [](const B& b, const Drawn& d) { return programme::survey_in_bench(b, d.survey).has_value(); }},
      {"survey_chunk", [](const B& b, const Drawn& d) { return b.survey_chunk_at(d.survey, d.position).has_value(); }},
      {"all_readings_of_loan", &all_readings, true},
      {"all_frames_of_title", &all_frames, true},
      {"all_loans_listed", &all_loans, true}};
  return all;
}

double ms_of(const std::function<bool()>& work) {
  const auto begun = std::chrono::steady_clock::now();
  if (!work()) {
    fmt::print(stderr, "a query failed\n");
    std::exit(2);
  }
  return 1000 * std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

store::Bench opened(const std::string& path) {
  auto bench = store::Bench::open(path);
  if (bench) return std::move(*bench);
  fmt::print(stderr, "{}\n", bench.error().text());
  std::exit(2);
}

/// Nothing of the file stays in the system's memory.
void forget(const std::string& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  ::fdatasync(file);
  ::posix_fadvise(file, 0, 0, POSIX_FADV_DONTNEED);
  ::close(file);
}

struct Times {
  std::vector<double> ms;
  double at(double share) {
    std::ranges::sort(ms);
    return ms[static_cast<std::size_t>(std::ceil(share * static_cast<double>(ms.size()))) - 1];
  }
};

Figure figure(const std::string& name, Times& times, bool reads_all) {
  const double p95 = times.at(0.95);
  fmt::print(stderr, "{:42} p50 {:9.2f}  p95 {:9.2f}  largest {:9.2f} ms\n", name, times.at(0.5), p95, times.at(1));
  if (reads_all) return {"scale_" + name, p95, "ms, p95", "for information", true};
  return {"scale_" + name, p95, "ms, p95", "<= 50", p95 <= kBar_ms};
}

std::string scratch() {
  const char* folder = std::getenv("PROVENIT_SCALE_FOLDER");
  return folder == nullptr ? std::string() : std::string(folder) + "/provenit-scale";
}

ScaleBench& large() {
  static ScaleBench made = [] {
    const auto* share_text = std::getenv("PROVENIT_SCALE_SHARE");
    const double share = share_text == nullptr ? 1 : std::atof(share_text);
    const auto part = [&](std::int64_t whole) {
      return std::max<std::int64_t>(1, std::llround(share * static_cast<double>(whole)));
    };
    const bench::ScaleSize whole;
    return bench::make_scale_bench(scratch(), {.loans = part(whole.loans),
                                               .readings = part(whole.readings),
                                               .surveys = part(whole.surveys),
                                               .frames = whole.frames});
  }();
  return made;
}

std::vector<Figure> size() {
  const auto& b = large();
  const auto tell = [](const char* name, double value, const char* unit) {
    return Figure{std::string("scale_") + name, value, unit, "for information", true};
  };
  return {tell("loans", static_cast<double>(b.loans), "1"),
          tell("runs", static_cast<double>(b.runs), "1"),
          tell("readings", static_cast<double>(b.readings), "1"),
          tell("findings", static_cast<double>(b.findings), "1"),
          tell("frames", static_cast<double>(b.surveys * b.frames), "1"),
          tell("file", 1e-9 * static_cast<double>(fs::file_size(b.path)), "GB"),
          tell("bytes_per_loan", b.loan_bytes, "B"),
          tell("bytes_per_reading", b.reading_bytes, "B"),
          tell("bytes_per_finding", b.finding_bytes, "B"),
          tell("bytes_per_frame", b.frame_bytes, "B"),
          tell("fill", b.fill_s, "s")};
}

std::vector<Figure> opening() {
  const auto& b = large();
  Times cold, warm;
  for (int i = 0; i < 5; ++i) {
    forget(b.path);
    cold.ms.push_back(ms_of([&] { return store::Bench::open(b.path).has_value(); }));
    warm.ms.push_back(ms_of([&] { return store::Bench::open(b.path).has_value(); }));
  }
  return {figure("open_cold", cold, true), figure("open_warm", warm, true)};
}

std::vector<Figure> asked(const Query& query) {
  const auto& b = large();
  std::mt19937_64 random(7);
  const auto up_to = [&](std::int64_t most) {
    return static_cast<std::int64_t>(random() % static_cast<std::uint64_t>(most)) + 1;
  };
  const auto newest_event = opened(b.path).newest().value().event;
  Times cold, warm;
  for (int i = 0; i < (query.reads_all ? kDrawsOfAll : kDraws); ++i) {
    const auto bench = opened(b.path);
    Drawn d{.loan = up_to(b.loans), .run = up_to(b.runs), .survey = up_to(b.surveys), .newest_event = newest_event};
    // Readings were written loan by loan: this one is of the loan's middle.
    d.reading = (2 * d.loan - 1) * b.readings / (2 * b.loans);
    d.position = up_to(b.frames) - 1;
    forget(b.path);
    cold.ms.push_back(ms_of([&] { return query.ask(bench, d); }));
    for (int k = 0; k < (query.reads_all ? kWarmOfAll : kWarm); ++k)
      warm.ms.push_back(ms_of([&] { return query.ask(bench, d); }));
  }
  return {figure(query.name + "_cold", cold, query.reads_all), figure(query.name + "_warm", warm, query.reads_all)};
}

/// The chain of every reading, computed again.
std::vector<Figure> verified() {
  const auto& b = large();
  const auto bench = opened(b.path);
  const double s = 1e-3 * ms_of([&] { return bench.verify_readings().has_value(); });
  return {{"scale_verify", static_cast<double>(b.readings) / s, "readings/s", "for information", true}};
}

/// A reading stored: with the sync to the disk that makes it durable.
std::vector<Figure> written() {
  const auto& b = large();
  auto bench = opened(b.path);
  auto reading = bench.readings(store::ReadingQuery{.limit = 1}).value().front();
  const auto run = bench.begin_run({.loan = 1, .procedure = "greyscale", .started = {1.9e9}, .origin = "simulated"});
  reading.run = run.value();
  Times times;
  for (reading.sequence = 0; reading.sequence < kWrittenReadings; ++reading.sequence)
    times.ms.push_back(ms_of([&] { return bench.reading_count() && bench.add_reading(reading); }));
  return {figure("reading_written", times, true)};
}

}  // namespace

int main(int argc, char** argv) {
  if (scratch().empty() && !(argc > 1 && std::string(argv[1]) == "--list")) {
    fmt::print(stderr, "PROVENIT_SCALE_FOLDER names no folder for a large bench: nothing to measure.\n");
    return 0;
  }
  std::vector<bench::Entry> entries{
      {.names = {"scale_loans", "scale_runs", "scale_readings", "scale_findings", "scale_frames", "scale_file",
                 "scale_bytes_per_loan", "scale_bytes_per_reading", "scale_bytes_per_finding", "scale_bytes_per_frame",
                 "scale_fill"},
       .compute = size},
      {.names = {"scale_open_cold", "scale_open_warm"}, .compute = opening}};
  for (const auto& q : queries())
    entries.push_back(
        {.names = {"scale_" + q.name + "_cold", "scale_" + q.name + "_warm"}, .compute = [&q] { return asked(q); }});
  entries.push_back({.names = {"scale_verify"}, .compute = verified});
  entries.push_back({.names = {"scale_reading_written"}, .compute = written});
  const int code = bench::run(argc, argv, entries);
  if (!scratch().empty() && std::getenv("PROVENIT_SCALE_KEEP") == nullptr) fs::remove_all(scratch());
  return code;
}
