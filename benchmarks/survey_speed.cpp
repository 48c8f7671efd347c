// The cost of a survey over decoding alone: the same 3840 x 2160 HEVC Main10 clip (a moving view over an HDR photograph
// with grain, about 45 Mb/s), the same threads, each run in a process of its own, in turn.
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "cost.h"
#include "figure.h"
#include "provenit/programme/survey.h"
#include "view_clip.h"

namespace {

using namespace provenit;
namespace fs = std::filesystem;

constexpr int kThreads = 2;
constexpr int kFrames = bench::kViewFrames;
constexpr int kRepeats = 5;

void keep_least(bench::Cost& best, const bench::Cost& c) {
  best = {std::min(best.wall_s, c.wall_s), std::min(best.cpu_s, c.cpu_s), std::max(best.peak_mb, c.peak_mb)};
}

bool decode_only(const std::string& clip) {
  auto reader = programme::open_reader(clip, {.threads = kThreads});
  if (!reader) return false;
  for (;;) {
    const auto picture = (*reader)->next();
    if (!picture) return false;
    if (!*picture) return true;
  }
}

bool survey(const std::string& clip, const std::string& out) {
  fs::remove(out);
  programme::SurveyOptions options{.software = "benchmark"};
  options.reading.threads = kThreads;
  const auto outcome = programme::survey_title(clip, out, options);
  if (!outcome) fmt::print(stderr, "{}\n", outcome.error().text());
  return outcome && outcome->header.complete;
}

std::string run_and_read(const std::string& command) {
  std::string out;
  if (FILE* pipe = popen(command.c_str(), "r")) {
    for (int c = 0; (c = std::fgetc(pipe)) != EOF;) out += static_cast<char>(c);
    pclose(pipe);
  }
  return out;
}

std::vector<bench::Figure> compute() {
  const std::string clip = bench::view_clip_path();
  const auto out = (fs::temp_directory_path() / fmt::format("provenit_speed_{}.survey", getpid())).string();
  const std::string longer = clip + ".long.mp4";
  run_and_read("ffmpeg -nostdin -v error -y -stream_loop 3 -i '" + clip + "' -c copy '" + longer + "'");
  bench::Cost decoding, surveying;
  for (int i = 0; i < kRepeats; ++i) {
    keep_least(decoding, bench::cost_of([&] { return decode_only(clip); }));
    keep_least(surveying, bench::cost_of([&] { return survey(clip, out); }));
  }
  const bench::Cost four_times = bench::cost_of([&] { return survey(longer, out); });
  fs::remove(out);
  fs::remove(longer);
  const double megabits = 8e-6 * static_cast<double>(fs::file_size(clip)) / (kFrames / 24.0);
  const double wall = surveying.wall_s / decoding.wall_s, cpu = surveying.cpu_s / decoding.cpu_s;
  const double extra = surveying.peak_mb - decoding.peak_mb, growth = four_times.peak_mb - surveying.peak_mb;
  return {{"survey_clip_rate", megabits, "Mb/s", "35 to 55", megabits > 35 && megabits < 55},
          {"survey_decode_cpu_per_frame", 1000 * decoding.cpu_s / kFrames, "ms", "for information", true},
          {"survey_frames_per_second", kFrames / surveying.wall_s, "1/s", "for information", true},
          {"survey_wall_over_decode", wall, "1", "<= 1.10", wall <= 1.10},
          {"survey_cpu_over_decode", cpu, "1", "<= 1.20", cpu <= 1.20},
          {"survey_memory_over_decode", extra, "MB", "<= 64", extra <= 64},
          {"survey_memory_growth_over_4x_length", growth, "MB", "<= 8", growth <= 8}};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{{"survey_clip_rate", "survey_decode_cpu_per_frame", "survey_frames_per_second", "survey_wall_over_decode",
         "survey_cpu_over_decode", "survey_memory_over_decode", "survey_memory_growth_over_4x_length"},
        compute}});
}
