// provenit farm: titles surveyed and forecast by many machines.
#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>

#include "interpretation.h"
#include "provenit/farm/queue.h"
#include "provenit/farm/status.h"
#include "provenit/programme/frame_meter.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using Json = nlohmann::ordered_json;

struct FarmOptions {
  std::string folder, bench;
  farm::PlanOptions plan;
  farm::QueueOptions queue;
  std::size_t title = 1, part = 1;
  int threads = 1, jobs = 0;
  bool again = false;
};

/// This program's own file, for nodes to run.
std::string own_path() {
  std::error_code ec;
  const auto path = std::filesystem::read_symlink("/proc/self/exe", ec);
  return ec ? std::string("provenit") : path.string();
}

std::string counted(std::size_t n, const char* what) {
  return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
}

farm::Worker worker_of(const FarmOptions& o) {
  stop_on_signals();
  return {.software = kSoftware, .threads = o.threads, .stop = stop_requested};
}

int plan(const Output& output, const FarmOptions& o) {
  auto options = o.plan;
  options.software = kSoftware;
  if (options.program.empty()) options.program = own_path();
  const auto job = farm::plan(o.folder, options);
  if (!job) return output.fail(job.error());
  Table table({"title", "frames", "parts", "file"});
  Json titles = Json::array();
  std::size_t parts = 0;
  for (std::size_t t = 0; t < job->titles.size(); ++t) {
    const auto& title = job->titles[t];
    parts += title.parts.size();
    table.add({std::to_string(t + 1), std::to_string(title.frames), std::to_string(title.parts.size()),
               farm::file_name(title)});
    titles.push_back({{"title", farm::file_name(title)}, {"frames", title.frames}, {"parts", title.parts.size()}});
  }
  const auto word = farm::shell_word(o.folder);
  output.say(fmt::format("{}{}, measured at the SIMD level {}.\nNext, one of:\n  provenit farm submit {}\n"
                         "  provenit farm run {}\n  parallel < {}/parts.txt && parallel < {}/merges.txt\n",
                         table.text(), counted(parts, "part"), job->simd_level, word, word, word, word),
             {{"folder", job->folder}, {"simd_level", job->simd_level}, {"parts", parts}, {"titles", titles}});
  return kDone;
}

const char* words_for(farm::Done done) {
  switch (done) {
    case farm::Done::now:
      return "done";
    case farm::Done::already:
      return "was done already";
    case farm::Done::stopped:
      return "stopped; what was measured is kept, the same command goes on with it";
  }
  return "";
}

/// Title, and for a part its number, that the command names.
Result<farm::Job> job_with(const FarmOptions& o, bool with_part) {
  auto job = farm::open(o.folder);
  if (!job) return job;
  if (o.title < 1 || o.title > job->titles.size())
    return fail(ErrorCode::out_of_range, fmt::format("there is no title {}", o.title),
                fmt::format("1 to {}.", job->titles.size()), {.file = o.folder});
  const auto parts = job->titles[o.title - 1].parts.size();
  if (with_part && (o.part < 1 || o.part > parts))
    return fail(ErrorCode::out_of_range, fmt::format("title {} has no part {}", o.title, o.part),
                fmt::format("1 to {}.", parts), {.file = o.folder});
  return job;
}

int part(const Output& output, const FarmOptions& o) {
  const auto job = job_with(o, true);
  if (!job) return output.fail(job.error());
  const auto done = farm::make_part(*job, o.title - 1, o.part - 1, worker_of(o));
  if (!done) return output.fail(done.error());
  const auto& title = job->titles[o.title - 1];
  output.say(
      fmt::format("{}, part {} of {}: {}.\n", farm::file_name(title), o.part, title.parts.size(), words_for(*done)),
      {{"title", o.title}, {"part", o.part}, {"done", *done != farm::Done::stopped}});
  return *done == farm::Done::stopped ? kStopped : kDone;
}

int merge(const Output& output, const FarmOptions& o) {
  const auto job = job_with(o, false);
  if (!job) return output.fail(job.error());
  const auto name = farm::file_name(job->titles[o.title - 1]);
  if (o.again) {
    const auto followed = farm::follow(*job, o.title - 1, worker_of(o));
    if (!followed) return output.fail(followed.error());
    const auto& again = followed->again;
    output.say(again ? fmt::format("{}: {} given to the engine again, try {}.\n", name,
                                   counted(again->parts.size(), "part"), again->attempt)
                     : name + ": done.\n",
               {{"title", o.title}, {"done", !again}});
    return kDone;
  }
  const auto done = farm::make_title(*job, o.title - 1, worker_of(o));
  if (!done) return output.fail(done.error());
  output.say(fmt::format("{}: {}.\n", name, words_for(*done)),
             {{"title", o.title}, {"done", *done != farm::Done::stopped}});
  return *done == farm::Done::stopped ? kStopped : kDone;
}

std::string task_text(const farm::TaskStatus& s) {
  std::string text = farm::name_of(s.state);
  if (s.state == farm::State::done && !s.complete) text += ", incomplete";
  if (s.state == farm::State::done && !s.hash.empty()) text += " " + s.hash.substr(0, 12);
  return text;
}

int tell_status(const Output& output, const farm::Job& job) {
  const auto status = farm::status(job);
  if (!status) return output.fail(status.error());
  Table table({"title", "part", "frames", "measured", "", "file"});
  std::string errors;
  const auto error = [&](const std::string& of, const std::optional<Error>& e) {
    if (e) errors += fmt::format("  {}: {}\n", of, e->text());
  };
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    const auto& title = job.titles[t];
    const auto& s = status->titles[t];
    const auto number = std::to_string(t + 1);
    for (std::size_t p = 0; p < title.parts.size(); ++p) {
      const auto& [first, last] = title.parts[p];
      table.add({number, std::to_string(p + 1), fmt::format("{} to {}", first, last - 1),
                 fmt::format("{}/{}", s.parts[p].done, last - first), task_text(s.parts[p]), farm::file_name(title)});
      error(fmt::format("title {}, part {}, frames {} to {}", t + 1, p + 1, first, last - 1), s.parts[p].error);
    }
    table.add({number, "all", fmt::format("0 to {}", title.frames - 1), "", task_text(s.survey), "survey"});
    error("title " + number, s.survey.error);
    if (!s.forecast) continue;
    table.add({number, "all", "", "", task_text(*s.forecast), "forecast"});
    error(fmt::format("title {}, forecast", number), s.forecast->error);
  }
  std::string text = table.text() + fmt::format("\n{} of {} frames", status->done, status->frames);
  if (status->left_s) text += ", left " + duration_text(*status->left_s);
  text += status->finished() ? ". Finished.\n" : ".\n";
  if (!errors.empty()) text += "\n" + errors;
  output.say(text, farm::to_json(job, *status, farm::error_json));
  return errors.empty() ? kDone : kCheckFailed;
}

int show_status(const Output& output, const FarmOptions& o) {
  const auto job = farm::open(o.folder);
  return job ? tell_status(output, *job) : output.fail(job.error());
}

int run(const Output& output, const FarmOptions& o) {
  const auto job = farm::open(o.folder);
  if (!job) return output.fail(job.error());
  const auto outcome = farm::run(*job, o.jobs, worker_of(o));
  const int told = tell_status(output, *job);
  if (outcome.stopped) fmt::print(stderr, "Stopped; what was measured is kept. The same command goes on with it.\n");
  return outcome.stopped ? kStopped : outcome.errors.empty() ? told : kCheckFailed;
}

int submit(const Output& output, const FarmOptions& o) {
  const auto job = farm::open(o.folder);
  if (!job) return output.fail(job.error());
  const auto submitted = farm::submit(*job, o.queue);
  if (!submitted) return output.fail(submitted.error());
  std::string text;
  Json document = Json::array();
  for (const auto& s : *submitted) {
    text += fmt::format("{}: {}{}, then job {}.\n", farm::file_name(job->titles[s.title]),
                        counted(s.parts.size(), "part"), s.array.empty() ? "" : " as job " + s.array, s.merge);
    document.push_back({{"title", s.title + 1}, {"parts", s.parts.size()}, {"array", s.array}, {"merge", s.merge}});
  }
  if (text.empty()) text = "Nothing to do: every title is done or in the queue.\n";
  output.say(text + fmt::format("How far it is: provenit farm status {}\n", farm::shell_word(o.folder)), document);
  return kDone;
}

int collect(const Output& output, const FarmOptions& o) {
  const auto job = farm::open(o.folder);
  if (!job) return output.fail(job.error());
  const auto collected = farm::collect(*job, o.bench, machine_time());
  if (!collected) return output.fail(collected.error());
  std::string text;
  Json document = Json::array();
  for (const auto& c : *collected) {
    const auto name = farm::file_name(job->titles[c.title]);
    text += c.survey != 0 ? fmt::format("{}: survey {}.\n", name, c.survey) : name + ": was there already.\n";
    document.push_back({{"title", c.title + 1}, {"survey", c.survey != 0 ? Json(c.survey) : Json(nullptr)}});
  }
  const auto open = job->titles.size() - collected->size();
  if (open > 0) text += fmt::format("Not surveyed yet: {}.\n", counted(open, "title"));
  output.say(text, document);
  return open == 0 ? kDone : kCheckFailed;
}

void add_plan_options(CLI::App& sub, FarmOptions& o) {
  auto& p = o.plan;
  sub.add_option("titles", p.titles, "films, stills, folders or names with #### for the frame number")->required();
  auto* parts = sub.add_option("--parts", p.parts, "parts of each title")->check(CLI::Range(1, 9999));
  sub.add_option("--minutes-per-part", p.minutes_per_part, "minutes of the programme in a part (5)")->excludes(parts);
  sub.add_option("--bench", p.bench, "bench whose display the titles are forecast for; a copy goes into the folder");
  sub.add_option("--loan", p.loan, "loan of that bench, if not the newest");
  sub.add_option("--simd", p.simd_level,
                 "instruction set that every node has, if not the best of this machine: " +
                     fmt::format("{}", fmt::join(programme::simd_levels(), ", ")));
  sub.add_option("--program", p.program, "path of the provenit command on the nodes, if not that of this one");
  sub.add_option("--rate", p.frame_rate_hz, "frames per second of a sequence of stills; 24 if not given")
      ->check(CLI::Range(0.0, 1000.0));
  add_interpretation(sub, p.meant);
}

void add_queue_options(CLI::App& sub, farm::QueueOptions& q) {
  sub.add_option("--partition", q.partition, "of the cluster");
  sub.add_option("--tries", q.tries, "how often a part is given to the engine, at most (3)");
  sub.add_option("--cpus", q.cpus, "processors for each part (1)");
  sub.add_option("--minutes", q.minutes, "limit of each task; what it measured is kept");
  sub.add_option("--memory", q.memory_mb, "MB for each task");
  sub.add_option("--name", q.name, "name of the jobs");
  sub.add_option("--sbatch", q.others,
                 "option that sbatch gets as it is, e.g. --sbatch=--account=film; may be repeated")
      ->allow_extra_args(false);
}

}  // namespace

void add_farm(Command& command) {
  const auto o = std::make_shared<FarmOptions>();
  auto* verb = add_verb(command, "farm", "titles surveyed and forecast by many machines",
                        "provenit farm plan work shore.mp4 cliff.mov --minutes-per-part 5 --bench tern.bench\n"
                        "provenit farm submit work --partition night        # Slurm\n"
                        "provenit farm run work --jobs 4                    # or on this machine\n"
                        "parallel < work/parts.txt && parallel < work/merges.txt   # or by any other queue\n"
                        "provenit farm status work\n"
                        "provenit farm collect work --bench tern.bench");
  verb->require_subcommand(1);
  const auto sub = [&](const char* name, const char* what, int (*work)(const Output&, const FarmOptions&)) {
    auto* made = verb->add_subcommand(name, what);
    made->fallthrough();
    made->add_option("folder", o->folder, "folder of the job")->required();
    made->callback([&command, o, work] { command.action = [&command, o, work] { return work(command.output, *o); }; });
    return made;
  };
  add_plan_options(*sub("plan", "cut titles into parts, and make the folder of the job", &plan), *o);
  add_queue_options(*sub("submit", "give what is not there yet to Slurm", &submit), o->queue);
  sub("run", "do what is not there yet on this machine", &run)
      ->add_option("--jobs", o->jobs, "parts at once; cores if not given")
      ->check(CLI::Range(1, 1024));
  sub("status", "how far it is: every title and part", &show_status);
  sub("collect", "put the surveys into a bench", &collect)->add_option("--bench", o->bench, "bench file")->required();
  auto* made = sub("part", "a task: survey one part", &part);
  made->add_option("title", o->title, "number of the title")->required();
  made->add_option("part", o->part, "number of the part")->required();
  made->add_option("--threads", o->threads, "frames measured at once and threads of the decoder (1)")
      ->check(CLI::Range(0, 1024));
  made = sub("merge", "a task: join the parts of a title, and forecast it", &merge);
  made->add_option("title", o->title, "number of the title")->required();
  made->add_flag("--again", o->again, "on Slurm: submit parts that are missing again");
}

}  // namespace provenit::cli
