// Slurm, by sbatch and squeue: an array of parts for each title, then a job that joins them or tries the lost ones
// again.
#include "provenit/farm/queue.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "folder.h"
#include "program.h"
#include "provenit/base/text.h"

namespace provenit::farm {
namespace {

using detail::Json;

/// What the folder keeps of a title's submissions: the newest one, and the options for the next.
struct Kept {
  Submission newest;
  QueueOptions options;
};

std::string record_path(const Job& job, std::size_t title) {
  return detail::file_in(job, detail::kQueue, detail::task_name(title) + ".json");
}

Result<void> write_record(const Job& job, const Kept& kept) {
  const auto& [s, o] = kept;
  const Json j{{"attempt", s.attempt},
               {"parts", s.parts},
               {"array", s.array},
               {"merge", s.merge},
               {"options",
                {{"partition", o.partition},
                 {"tries", o.tries},
                 {"cpus", o.cpus},
                 {"minutes", o.minutes},
                 {"memory_mb", o.memory_mb},
                 {"name", o.name},
                 {"others", o.others}}}};
  return write_file(record_path(job, s.title), j.dump(1, ' ', false, Json::error_handler_t::replace) + "\n");
}

Result<std::optional<Kept>> read_record(const Job& job, std::size_t title) {
  const auto path = record_path(job, title);
  if (!detail::is_there(path)) return std::optional<Kept>{};
  const auto text = read_file(path);
  if (!text) return tl::unexpected(text.error());
  try {
    const auto j = Json::parse(*text);
    const auto& o = j.at("options");
    Kept kept{.newest = {.title = title,
                         .parts = j.at("parts").get<std::vector<std::size_t>>(),
                         .array = j.at("array"),
                         .merge = j.at("merge"),
                         .attempt = j.at("attempt")},
              .options = {.partition = o.at("partition"),
                          .tries = o.at("tries"),
                          .cpus = o.at("cpus"),
                          .minutes = o.at("minutes"),
                          .memory_mb = o.at("memory_mb"),
                          .name = o.at("name"),
                          .others = o.at("others").get<std::vector<std::string>>()}};
    return std::optional(std::move(kept));
  } catch (const nlohmann::json::exception& broken) {
    return fail(ErrorCode::invalid_input, fmt::format("cannot be read: {}", broken.what()),
                "Remove it and submit the job again: what is done stays.", {.file = path});
  }
}

Result<void> check_options(const QueueOptions& o) {
  const auto outside = [](const char* field, int value, int least, int most) {
    return fail(ErrorCode::out_of_range, fmt::format("is {}", value), fmt::format("Give {} to {}.", least, most),
                {.field = field});
  };
  if (o.tries < 1 || o.tries > 100) return outside("--tries", o.tries, 1, 100);
  if (o.cpus < 1 || o.cpus > 1024) return outside("--cpus", o.cpus, 1, 1024);
  if (o.minutes < 0 || o.minutes > 1'000'000) return outside("--minutes", o.minutes, 0, 1'000'000);
  if (o.memory_mb < 0 || o.memory_mb > 100'000'000) return outside("--memory", o.memory_mb, 0, 100'000'000);
  for (const auto& other : o.others)
    if (!other.starts_with("--") || other == "--")
      return fail(ErrorCode::invalid_input, "'" + other + "' is no option of sbatch", "Give e.g. --account=film.",
                  {.field = "--sbatch"});
  return {};
}

/// The number of the job.
Result<std::string> sbatch(const Job& job, const QueueOptions& o, std::size_t title,
                           const std::vector<std::string>& own, const std::string& name, const std::string& script) {
  const auto path = detail::file_in(job, detail::kQueue, name + ".sh");
  if (auto written = write_file(path, script); !written) return tl::unexpected(written.error());
  const auto folder = std::filesystem::path(job.folder).filename().string();
  std::vector<std::string> words{
      "sbatch", "--parsable", "--requeue",
      fmt::format("--job-name={}-{}", o.name.empty() ? "provenit-" + folder : o.name, title + 1),
      "--chdir=" + detail::file_in(job, detail::kLogs, "")};
  words.insert(words.end(), own.begin(), own.end());
  if (!o.partition.empty()) words.push_back("--partition=" + o.partition);
  if (o.minutes > 0) words.push_back(fmt::format("--time={}", o.minutes));
  if (o.memory_mb > 0) words.push_back(fmt::format("--mem={}M", o.memory_mb));
  words.insert(words.end(), o.others.begin(), o.others.end());
  words.push_back(path);
  const auto ran = run_program(words);
  if (!ran) {
    Error error = ran.error();
    error.advice = "Use a machine of the cluster, or do without: provenit farm run, or the lists of commands.";
    return tl::unexpected(error);
  }
  const auto number = ran->out.substr(0, ran->out.find_first_of(";\n"));  // "12;cluster"
  if (ran->exit == 0 && parse_integer(number)) return number;
  return fail(ErrorCode::io, fmt::format("sbatch refused the job: {}", trim(ran->err.empty() ? ran->out : ran->err)),
              "What is done stays; submit it again.", {.file = path});
}

Result<Submission> submit_title(const Job& job, std::size_t title, std::vector<std::size_t> parts, int attempt,
                                const QueueOptions& o) {
  Kept kept{.newest = {.title = title, .parts = std::move(parts), .attempt = attempt}, .options = o};
  auto& s = kept.newest;
  const auto task = detail::task_name(title);
  detail::forget_error(job, task);
  for (const auto p : s.parts) detail::forget_error(job, detail::task_name(title, p));
  const auto words = fmt::format("{} farm", shell_word(job.program));
  std::vector<std::string> merge{"--cpus-per-task=1", "--output=" + task + "-merge-%j.txt"};
  if (!s.parts.empty()) {
    std::string numbers;
    for (const auto p : s.parts) numbers += fmt::format("{}{}", numbers.empty() ? "" : ",", p + 1);
    auto array = sbatch(job, o, title,
                        {"--array=" + numbers, fmt::format("--cpus-per-task={}", o.cpus),
                         fmt::format("--output={}-%4a-{}.txt", task, attempt)},
                        task + "-parts",
                        fmt::format("#!/bin/sh\nexec {} part {} {} \"$SLURM_ARRAY_TASK_ID\" --threads "
                                    "\"${{SLURM_CPUS_PER_TASK:-1}}\"\n",
                                    words, shell_word(job.folder), title + 1));
    if (!array) return tl::unexpected(array.error());
    s.array = *array;
    // afterany: whatever became of the parts, the job that follows says so or tries again.
    merge.push_back("--dependency=afterany:" + s.array);
  }
  auto number =
      sbatch(job, o, title, merge, task + "-merge",
             fmt::format("#!/bin/sh\nexec {} merge {} {} --again\n", words, shell_word(job.folder), title + 1));
  if (number) s.merge = *number;
  if (auto written = write_record(job, kept); !written) return tl::unexpected(written.error());
  if (!number) return tl::unexpected(number.error());
  return s;
}

Error lost(const Job& job, std::size_t t, const std::vector<std::size_t>& missing, int attempts) {
  std::string text = fmt::format("{} of {} parts did not come, after {} {}:", missing.size(),
                                 job.titles[t].parts.size(), attempts, attempts == 1 ? "try" : "tries");
  for (const auto p : missing) {
    const auto why = detail::kept_error(job, detail::task_name(t, p));
    text += fmt::format(
        " part {} (frames {} to {}) {};", p + 1, job.titles[t].parts[p].first, job.titles[t].parts[p].last - 1,
        why ? "failed: " + why->message : std::string("is lost: its worker was killed or its node went away"));
  }
  text.pop_back();
  return {ErrorCode::not_found,
          text,
          "See " + detail::file_in(job, detail::kLogs, "") + "; then submit the job again.",
          {.file = job.titles[t].path, .frame = job.titles[t].parts[missing.front()].first}};
}

/// Whether the engine has anything of it.
bool is_queued(const Submission& s, const std::map<std::string, std::string>& queue) {
  return queue.contains(s.merge) || (!s.array.empty() && std::ranges::any_of(queue, [&](const auto& job) {
           return job.first.starts_with(s.array + "_");
         }));
}

bool is_finished(const Job& job, std::size_t t) {
  return detail::is_there(survey_path(job, t)) && (!job.bench || detail::is_there(forecast_path(job, t)));
}

}  // namespace

Result<std::vector<Submission>> submit(const Job& job, const QueueOptions& options) {
  if (auto ok = check_options(options); !ok) return tl::unexpected(ok.error());
  std::vector<Submission> out;
  std::vector<Submission> before;
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    auto newest = submission_of(job, t);
    if (!newest) return tl::unexpected(newest.error());
    if (*newest && !is_finished(job, t)) before.push_back(std::move(**newest));
  }
  const auto queue = queue_states(before);
  if (!queue) return tl::unexpected(queue.error());
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    if (is_finished(job, t)) continue;
    const auto newest = std::ranges::find(before, t, &Submission::title);
    if (newest != before.end() && is_queued(*newest, *queue)) continue;
    auto parts = detail::is_there(survey_path(job, t)) ? std::vector<std::size_t>{} : missing_parts(job, t);
    auto submitted = submit_title(job, t, std::move(parts), 1, options);
    if (!submitted) return tl::unexpected(submitted.error());
    out.push_back(std::move(*submitted));
  }
  return out;
}

Result<Followed> follow(const Job& job, std::size_t t, const Worker& worker) {
  const auto missing = detail::is_there(survey_path(job, t)) ? std::vector<std::size_t>{} : missing_parts(job, t);
  if (missing.empty()) return make_title(job, t, worker).map([](Done) { return Followed{}; });
  auto record = read_record(job, t);
  if (!record) return tl::unexpected(record.error());
  const int attempt = *record ? (*record)->newest.attempt : 1;
  const bool refused = std::ranges::any_of(missing, [&](std::size_t p) {
    const auto error = detail::kept_error(job, detail::task_name(t, p));
    return error && !detail::worth_another_try(*error);
  });
  if (refused || !*record || attempt >= (*record)->options.tries) {
    const auto error = lost(job, t, missing, attempt);
    detail::keep_error(job, detail::task_name(t), error, {{"title", file_name(job.titles[t])}});
    return tl::unexpected(error);
  }
  return submit_title(job, t, missing, attempt + 1, (*record)->options).map([](Submission s) {
    return Followed{std::move(s)};
  });
}

Result<std::optional<Submission>> submission_of(const Job& job, std::size_t title) {
  auto kept = read_record(job, title);
  if (!kept) return tl::unexpected(kept.error());
  return *kept ? std::optional(std::move((*kept)->newest)) : std::nullopt;
}

Result<std::map<std::string, std::string>> queue_states(const std::vector<Submission>& submissions) {
  std::string jobs;
  for (const auto& s : submissions)
    for (const auto* number : {&s.array, &s.merge})
      if (!number->empty()) jobs += (jobs.empty() ? "" : ",") + *number;
  std::map<std::string, std::string> states;
  if (jobs.empty()) return states;
  // It asks for minutes where its controller does not answer.
  const auto ran =
      run_program({"timeout", "10", "squeue", "--noheader", "--array", "--jobs=" + jobs, "--format=%F|%K|%T"});
  if (!ran) return tl::unexpected(ran.error());
  // Jobs that ended a while ago are unknown to it: no line, or for a single one an error.
  if (ran->exit != 0 && ran->err.find("Invalid job id") == std::string::npos)
    return fail(ErrorCode::io, fmt::format("squeue does not answer: {}", trim(ran->err)),
                "See that the engine runs; what is done stays.");
  for (const auto line : split(ran->out, '\n')) {
    const auto words = split(line, '|');
    if (words.size() != 3) continue;
    const bool task = parse_integer(words[1]).has_value();
    states[std::string(words[0]) + (task ? "_" + std::string(words[1]) : "")] = words[2];
  }
  return states;
}

}  // namespace provenit::farm
