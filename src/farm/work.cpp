#include "provenit/farm/work.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <mutex>
#include <thread>

#include "folder.h"
#include "forecast_file.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/survey.h"
#include "title_state.h"

namespace provenit::farm {
namespace {

namespace fs = std::filesystem;
using detail::TaskLock;

Result<void> check_program(const Job& job, const Worker& worker) {
  if (worker.software == job.software) return {};
  return fail(ErrorCode::conflict, fmt::format("was planned by {}, this is {}", job.software, worker.software),
              "Install one version on all nodes: figures of several would not join.", {.file = job.folder});
}

/// A file of the same size and time is taken to be the same; any other is held against its fingerprint.
Result<void> check_unchanged(const Title& title) {
  const auto now = file_state(title.path);
  if (title.bytes > 0 && now == FileState{title.bytes, title.modified_ns}) return {};
  const auto index = programme::index_frames(title.path);
  if (!index) return tl::unexpected(index.error());
  if (index->fingerprint == title.fingerprint) return {};
  return fail(
      ErrorCode::conflict,
      fmt::format("has changed since it was planned: {} frames and fingerprint {} then, {} and {} now", title.frames,
                  title.fingerprint.substr(0, 12), index->time_s.size(), index->fingerprint.substr(0, 12)),
      "Put the planned file back, or plan it again in a new folder.", {.file = title.path});
}

Result<programme::SurveyOptions> options_for(const Job& job, const Worker& worker) {
  programme::SurveyOptions options{.simd_level = job.simd_level, .software = worker.software};
  const auto meant = programme::interpretation_of(job.meant);
  if (!meant) return tl::unexpected(meant.error());
  options.reading = {.interpretation = *meant, .threads = worker.threads, .frame_rate_hz = job.frame_rate_hz};
  return options;
}

/// Tells how far a part is, every other second and at its end.
class Teller {
 public:
  Teller(const Job& job, std::string task) : job_(job), task_(std::move(task)) {}
  void tell(std::int64_t done) {
    const auto now = Clock::now();
    if (told_ == Clock::time_point{}) began_ = now, progress_.done_before = done - 1;
    if (told_ != Clock::time_point{} && now - told_ < std::chrono::seconds(2)) return;
    told_ = now;
    write(done);
  }
  void end(const programme::SurveyOutcome& outcome) {
    progress_.complete = outcome.stopped || outcome.header.complete;
    if (told_ != Clock::time_point{}) write(static_cast<std::int64_t>(outcome.light.size()));
  }

 private:
  using Clock = std::chrono::steady_clock;
  void write(std::int64_t done) {
    progress_.done = done;
    progress_.seconds = std::chrono::duration<double>(Clock::now() - began_).count();
    // Only a view of the work: the work does not end with it.
    [[maybe_unused]] const auto written = detail::write_progress(job_, task_, progress_);
  }
  const Job& job_;
  std::string task_;
  detail::Progress progress_;
  Clock::time_point began_{}, told_{};
};

Result<Done> survey_part(const Job& job, std::size_t t, std::size_t p, const Worker& worker) {
  const auto out = part_path(job, t, p);
  if (detail::is_there(out)) return Done::already;
  if (auto ok = check_program(job, worker); !ok) return tl::unexpected(ok.error());
  const auto task = detail::task_name(t, p);
  const auto lock = TaskLock::take(job, task, worker.stop);
  if (!lock) return tl::unexpected(lock.error());
  if (!*lock) return Done::stopped;
  if (detail::is_there(out)) return Done::already;
  const Title& title = job.titles[t];
  if (auto same = check_unchanged(title); !same) return tl::unexpected(same.error());
  const auto index = index_of(job, t);
  if (!index) return tl::unexpected(index.error());
  auto options = options_for(job, worker);
  if (!options) return tl::unexpected(options.error());
  options->index = &*index;
  options->first = title.parts[p].first;
  options->last = title.parts[p].last;
  Teller teller(job, task);
  options->progress = [&](const programme::SurveyProgress& progress) {
    teller.tell(progress.done);
    return !(worker.stop && worker.stop());
  };
  const auto outcome = programme::survey_title(title.path, out, *options);
  if (!outcome) return tl::unexpected(outcome.error());
  teller.end(*outcome);
  return outcome->stopped ? Done::stopped : Done::now;
}

std::string numbers_of(const std::vector<std::size_t>& parts) {
  std::string text = parts.size() == 1 ? "part " : "parts ";
  for (std::size_t i = 0; i < parts.size(); ++i)
    text += fmt::format("{}{}", i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ", parts[i] + 1);
  return text;
}

Result<Done> join(const Job& job, std::size_t t, const Worker& worker) {
  const auto out = survey_path(job, t);
  if (detail::is_there(out)) return Done::already;
  if (auto ok = check_program(job, worker); !ok) return tl::unexpected(ok.error());
  const auto lock = TaskLock::take(job, detail::task_name(t), worker.stop);
  if (!lock) return tl::unexpected(lock.error());
  if (!*lock) return Done::stopped;
  if (detail::is_there(out)) return Done::already;
  const Title& title = job.titles[t];
  if (const auto missing = missing_parts(job, t); !missing.empty())
    return fail(ErrorCode::not_found,
                fmt::format("{} of {} {} not there yet", numbers_of(missing), title.parts.size(),
                            missing.size() == 1 ? "is" : "are"),
                "Make them: provenit farm run " + shell_word(job.folder) + ", or submit it again.",
                {.file = title.path, .frame = title.parts[missing.front()].first});
  if (auto same = check_unchanged(title); !same) return tl::unexpected(same.error());
  std::vector<std::string> paths;
  for (std::size_t p = 0; p < title.parts.size(); ++p) paths.push_back(part_path(job, t, p));
  const auto joined = out + ".joined";
  const auto header = programme::merge_surveys(paths, joined);
  if (!header) return tl::unexpected(header.error());
  std::error_code ec;
  if (header->fingerprint != title.fingerprint || header->first != 0 || header->last != title.frames ||
      header->software != job.software || header->simd_level != job.simd_level) {
    fs::remove(joined, ec);
    return fail(ErrorCode::conflict, "the parts in the folder are not those of this plan",
                "Remove them and run the job again.", {.file = paths.front()});
  }
  fs::rename(joined, out, ec);
  if (ec) return fail(ErrorCode::io, "cannot be put in place: " + ec.message(), "Check the disk.", {.file = out});
  return Done::now;
}

Result<Done> forecast_title(const Job& job, std::size_t t, const Worker& worker) {
  if (detail::is_there(forecast_path(job, t))) return Done::already;
  if (auto ok = check_program(job, worker); !ok) return tl::unexpected(ok.error());
  const auto lock = TaskLock::take(job, detail::forecast_task(t), worker.stop);
  if (!lock) return tl::unexpected(lock.error());
  if (!*lock) return Done::stopped;
  if (detail::is_there(forecast_path(job, t))) return Done::already;
  return write_forecast(job, t).map([] { return Done::now; });
}

/// What a task ended in, kept for status.
Result<Done> kept(const Job& job, std::size_t t, std::optional<std::size_t> p, const std::string& task,
                  Result<Done> done) {
  if (done) {
    if (*done != Done::stopped) detail::forget_error(job, task);
    return done;
  }
  const Title& title = job.titles[t];
  detail::Json about{{"title", file_name(title)}};
  if (p) about["part"] = *p + 1;
  about["first"] = p ? title.parts[*p].first : 0;
  about["last"] = p ? title.parts[*p].last : title.frames;
  detail::keep_error(job, task, done.error(), std::move(about));
  return done;
}

}  // namespace

std::vector<std::size_t> missing_parts(const Job& job, std::size_t title) {
  std::vector<std::size_t> missing;
  for (std::size_t p = 0; p < job.titles[title].parts.size(); ++p)
    if (!detail::is_there(part_path(job, title, p))) missing.push_back(p);
  return missing;
}

Result<Done> make_part(const Job& job, std::size_t title, std::size_t part, const Worker& worker) {
  return kept(job, title, part, detail::task_name(title, part), survey_part(job, title, part, worker));
}

Result<Done> make_title(const Job& job, std::size_t title, const Worker& worker) {
  auto joined = kept(job, title, {}, detail::task_name(title), join(job, title, worker));
  if (!joined || *joined == Done::stopped || !job.bench) return joined;
  auto forecast = kept(job, title, {}, detail::forecast_task(title), forecast_title(job, title, worker));
  return forecast && *forecast == Done::already ? joined : forecast;
}

RunOutcome run(const Job& job, int jobs, const Worker& worker) {
  struct Task {
    std::size_t title, part;
  };
  std::vector<Task> tasks;
  std::vector<std::atomic<std::size_t>> open(job.titles.size());
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    // A title that is joined needs its parts no more.
    const bool joined = detail::is_there(survey_path(job, t));
    open[t] = joined ? 1 : job.titles[t].parts.size();
    for (std::size_t p = 0; p < open[t]; ++p) tasks.push_back({t, joined ? job.titles[t].parts.size() : p});
  }
  RunOutcome outcome;
  std::mutex mutex;
  std::atomic<std::size_t> next{0};
  std::vector<std::atomic<bool>> broken(job.titles.size());
  const auto take = [&](const Result<Done>& done, std::size_t t) {
    if (done && *done != Done::stopped) return;
    broken[t] = true;
    const std::scoped_lock hold(mutex);
    if (done)
      outcome.stopped = true;
    else
      outcome.errors.push_back(done.error());
  };
  const auto work = [&] {
    for (std::size_t i = 0; (i = next++) < tasks.size();) {
      const auto [t, p] = tasks[i];
      if (worker.stop && worker.stop()) {
        take(Done::stopped, t);
        return;
      }
      if (p < job.titles[t].parts.size()) take(make_part(job, t, p, worker), t);
      if (--open[t] == 0 && !broken[t]) take(make_title(job, t, worker), t);
    }
  };
  const auto cores = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  std::vector<std::jthread> threads;
  for (int j = 1; j < std::min<std::int64_t>(jobs > 0 ? jobs : cores, static_cast<std::int64_t>(tasks.size())); ++j)
    threads.emplace_back(work);
  work();
  threads.clear();
  return outcome;
}

Result<std::vector<Collected>> collect(const Job& job, const std::string& path, Timestamp now) {
  auto bench = store::Bench::open(path);
  if (!bench) return tl::unexpected(bench.error());
  std::vector<Collected> out;
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    if (!detail::is_there(survey_path(job, t))) continue;
    const auto survey = programme::SurveyFile::open(survey_path(job, t));
    if (!survey) return tl::unexpected(survey.error());
    const auto id = programme::add_to_bench(*survey, *bench, now);
    if (!id && id.error().code != ErrorCode::conflict) return tl::unexpected(id.error());
    out.push_back({.title = t, .survey = id.value_or(0)});
  }
  return out;
}

}  // namespace provenit::farm
