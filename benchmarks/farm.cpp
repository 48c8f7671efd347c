// What cutting a title into parts costs: processor time of four parts, each in a process of its own as on a farm, and
// of joining them, over that of the survey of the whole. 32 s of 3840 x 2160 HEVC Main10, so that a part is 8 s of
// programme: what a part costs once weighs less the longer it is.
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "cost.h"
#include "figure.h"
#include "provenit/base/text.h"
#include "provenit/farm/work.h"
#include "provenit/programme/survey.h"
#include "view_clip.h"

namespace {

using namespace provenit;
namespace fs = std::filesystem;

constexpr int kParts = 4, kTimesLong = 8, kRepeats = 3;
const farm::Worker kWorker{.software = "benchmark"};

/// Processor time of `work` in a child.
template <class F>
double cpu_s(F work) {
  return bench::cost_of(work).cpu_s;
}

template <class T>
bool went_well(const Result<T>& result) {
  if (!result) fmt::print(stderr, "{}\n", result.error().text());
  return result.has_value();
}

struct Costs {
  double whole_s = 1e9, plan_s = 1e9, split_s = 1e9;
};

Costs once(const std::string& title, const fs::path& folder) {
  fs::remove_all(folder);
  fs::create_directories(folder);
  const auto whole = (folder / "whole.survey").string(), job_folder = (folder / "job").string();
  Costs costs;
  costs.whole_s = cpu_s([&] {
    programme::SurveyOptions options{.software = kWorker.software};
    options.reading.threads = 1;
    return went_well(programme::survey_title(title, whole, options));
  });
  costs.plan_s = cpu_s([&] {
    return went_well(
        farm::plan(job_folder,
                   {.titles = {title}, .parts = kParts, .program = "/usr/bin/provenit", .software = kWorker.software}));
  });
  const auto job = farm::open(job_folder);
  if (!went_well(job) || job->titles[0].parts.size() != kParts) std::exit(2);
  costs.split_s = 0;
  for (std::size_t p = 0; p < kParts; ++p)
    costs.split_s += cpu_s([&] { return went_well(farm::make_part(*job, 0, p, kWorker)); });
  costs.split_s += cpu_s([&] { return went_well(farm::make_title(*job, 0, kWorker)); });
  if (read_file(whole).value() != read_file(farm::survey_path(*job, 0)).value()) {
    fmt::print(stderr, "the parts did not give the bytes of the whole\n");
    std::exit(2);
  }
  return costs;
}

std::vector<bench::Figure> compute() {
  const auto clip = bench::view_clip_path();
  const auto folder = fs::temp_directory_path() / fmt::format("provenit_farm_{}", getpid());
  const std::string title = clip + ".farm.mp4";
  const auto longer =
      fmt::format("ffmpeg -nostdin -v error -y -stream_loop {} -i '{}' -c copy '{}'", kTimesLong - 1, clip, title);
  if (std::system(longer.c_str()) != 0) std::exit(2);
  Costs least;  // the least of several runs is the one that was disturbed least
  for (int i = 0; i < kRepeats; ++i) {
    const auto c = once(title, folder);
    least = {std::min(least.whole_s, c.whole_s), std::min(least.plan_s, c.plan_s), std::min(least.split_s, c.split_s)};
  }
  fs::remove_all(folder);
  fs::remove(title);
  const double split = least.split_s / least.whole_s, plan = least.plan_s / least.whole_s;
  return {{"farm_whole_cpu", least.whole_s, "s", "for information", true},
          {"farm_plan_cpu_over_whole", plan, "1", "for information", true},
          {"farm_split_cpu_over_whole", split, "1", "<= 1.05", split <= 1.05}};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv,
                    {{{"farm_whole_cpu", "farm_plan_cpu_over_whole", "farm_split_cpu_over_whole"}, compute}});
}
