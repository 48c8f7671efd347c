// Titles cut into tasks, and everything that a node needs beside the titles.
#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "folder.h"
#include "forecast_file.h"
#include "job_json.h"
#include "provenit/base/text.h"
#include "provenit/programme/frame_meter.h"
#include "provenit/programme/survey.h"
#include "provenit/store/bench.h"
#include "title_state.h"

namespace provenit::farm {
namespace {

namespace fs = std::filesystem;

constexpr int kMostParts = 9999;

/// A name that goes into a line of a list of commands and into JSON.
Result<void> check_name(const std::string& name) {
  for (const char c : name)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      return fail(ErrorCode::invalid_input, "has a line feed or another control character in its name",
                  "Rename it: a list of commands has one line for each.", {.file = name});
  try {
    (void)nlohmann::json(name).dump();
  } catch (const nlohmann::json::exception&) {
    return fail(ErrorCode::invalid_input, "its name is not UTF-8", "Rename it.", {.file = name});
  }
  return {};
}

Result<std::string> absolute(const std::string& path) {
  if (auto ok = check_name(path); !ok) return tl::unexpected(ok.error());
  std::error_code ec;
  auto whole = fs::absolute(path, ec).lexically_normal().string();
  if (ec) return fail(ErrorCode::io, ec.message(), "Give a whole path.", {.file = path});
  if (auto ok = check_name(whole); !ok) return tl::unexpected(ok.error());
  return whole;
}

int parts_of(const Title& title, const PlanOptions& options) {
  if (options.parts > 0) return options.parts;
  const double parts = std::ceil(title.seconds / (60 * options.minutes_per_part));
  return static_cast<int>(std::clamp(parts, 1.0, static_cast<double>(kMostParts)));
}

/// A folder that goes again unless it is kept.
class NewFolder {
 public:
  static Result<NewFolder> make(const std::string& path) {
    std::error_code ec;
    if (fs::exists(path, ec) && (!fs::is_directory(path, ec) || !fs::is_empty(path, ec)))
      return fail(ErrorCode::conflict, "there is something of this name already", "Name a new or an empty folder.",
                  {.file = path});
    NewFolder made(path);
    for (const char* sub : {detail::kTitles, detail::kSurveys, detail::kForecasts, detail::kErrors, detail::kProgress,
                            detail::kLocks, detail::kQueue, detail::kLogs})
      if (fs::create_directories(fs::path(path) / sub, ec); ec)
        return fail(ErrorCode::io, "the folder cannot be made: " + ec.message(), "Check that you may write there.",
                    {.file = path});
    return made;
  }
  NewFolder(NewFolder&& other) noexcept : path_(std::exchange(other.path_, {})) {}
  NewFolder& operator=(NewFolder&&) = delete;
  ~NewFolder() {
    std::error_code ec;
    if (!path_.empty()) fs::remove_all(path_, ec);
  }
  void keep() { path_.clear(); }

 private:
  explicit NewFolder(std::string path) : path_(std::move(path)) {}
  std::string path_;
};

Result<Title> plan_title(const std::string& path, const PlanOptions& options, Job& job) {
  programme::ReaderOptions reading{.frame_rate_hz = options.frame_rate_hz};
  reading.threads = 1;
  const auto meant = programme::interpretation_of(options.meant, "--");
  if (!meant) return tl::unexpected(meant.error());
  reading.interpretation = *meant;
  const auto reader = programme::open_reader(path, reading);
  if (!reader) return tl::unexpected(reader.error());
  const auto meter = programme::FrameMeter::make((*reader)->info().format, options.simd_level);
  if (!meter) return tl::unexpected(meter.error());
  job.simd_level = meter->simd_level();
  const auto index = programme::index_frames(path, reading);
  if (!index) return tl::unexpected(index.error());
  const auto state = file_state(path);
  Title title{.path = path,
              .bytes = state.bytes,
              .modified_ns = state.modified_ns,
              .fingerprint = index->fingerprint,
              .frames = static_cast<std::int64_t>(index->time_s.size()),
              .seconds = index->time_s.back()};
  for (const auto& span : programme::cut_on_key_frames(*index, parts_of(title, options)))
    title.parts.push_back({span.first, span.last});
  auto hash = write_index(job, job.titles.size(), *index);
  if (!hash) return tl::unexpected(hash.error());
  title.index_sha256 = *hash;
  return title;
}

Result<JobBench> plan_bench(const Job& job, const PlanOptions& options) {
  const auto copy = detail::file_in(job, "", detail::kBenchCopy);
  if (auto copied = store::Bench::copy(options.bench, copy); !copied) return tl::unexpected(copied.error());
  const auto bytes = read_file(copy);
  if (!bytes) return tl::unexpected(bytes.error());
  JobBench bench{.loan = options.loan, .sha256 = sha256_hex(*bytes)};
  const auto display = display_of(*bytes, bench.loan);  // what it lacks is told before hours of work
  if (!display) {
    Error error = display.error();
    error.where.file = options.bench;
    return tl::unexpected(error);
  }
  bench.loan = display->loan;
  return bench;
}

Result<void> write_lists(const Job& job) {
  std::string parts, merges;
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    for (std::size_t p = 0; p < job.titles[t].parts.size(); ++p) parts += part_command(job, t, p) + "\n";
    merges += merge_command(job, t) + "\n";
  }
  return write_file(detail::file_in(job, "", "parts.txt"), parts).and_then([&] {
    return write_file(detail::file_in(job, "", "merges.txt"), merges);
  });
}

}  // namespace

FileState file_state(const std::string& path) {
  struct stat s {};
  if (::stat(path.c_str(), &s) != 0 || !S_ISREG(s.st_mode)) return {};
  return {.bytes = static_cast<std::uint64_t>(s.st_size),
          .modified_ns = std::int64_t{s.st_mtim.tv_sec} * 1'000'000'000 + s.st_mtim.tv_nsec};
}

Result<Job> plan(const std::string& folder, const PlanOptions& options) {
  if (options.parts < 0 || options.parts > kMostParts)
    return fail(ErrorCode::out_of_range, fmt::format("{} parts", options.parts), fmt::format("1 to {}.", kMostParts),
                {.field = "--parts"});
  if (!(options.minutes_per_part > 0 && options.minutes_per_part <= 1e6))
    return fail(ErrorCode::out_of_range, fmt::format("{} minutes", options.minutes_per_part), "More than 0.",
                {.field = "--minutes-per-part"});
  if (options.titles.empty() || options.titles.size() > kMostParts)
    return fail(ErrorCode::invalid_input, fmt::format("{} titles", options.titles.size()),
                fmt::format("1 to {} in a job.", kMostParts));
  Job job{.software = options.software, .meant = options.meant, .frame_rate_hz = options.frame_rate_hz};
  for (const auto& [from, to] : {std::pair(&folder, &job.folder), std::pair(&options.program, &job.program)}) {
    auto whole = absolute(*from);
    if (!whole) return tl::unexpected(whole.error());
    *to = std::move(*whole);
  }
  while (job.folder.size() > 1 && job.folder.back() == '/') job.folder.pop_back();
  auto made = NewFolder::make(job.folder);
  if (!made) return tl::unexpected(made.error());
  for (const auto& given : options.titles) {
    const auto path = absolute(given);
    if (!path) return tl::unexpected(path.error());
    if (std::ranges::find(job.titles, *path, &Title::path) != job.titles.end())
      return fail(ErrorCode::invalid_input, "is given twice", "Give each title once.", {.file = given});
    auto title = plan_title(*path, options, job);
    if (!title) return tl::unexpected(title.error());
    job.titles.push_back(std::move(*title));
  }
  if (!options.bench.empty()) {
    auto bench = plan_bench(job, options);
    if (!bench) return tl::unexpected(bench.error());
    job.bench = std::move(*bench);
  }
  // Last: a folder with a farm.json is a whole one.
  if (auto written = write_lists(job).and_then([&] { return write_job(job); }); !written)
    return tl::unexpected(written.error());
  made->keep();
  return job;
}

}  // namespace provenit::farm
