#include "provenit/farm/status.h"

#include <filesystem>
#include <fstream>

#include "folder.h"
#include "provenit/base/text.h"
#include "provenit/farm/queue.h"

namespace provenit::farm {
namespace {

using detail::Json;
using Queue = std::map<std::string, std::string>;

/// The hash that a finished survey says of itself in its last line; the file is only ever put in place whole.
std::string stated_hash(const std::string& path) {
  constexpr std::string_view mark = "END ";
  constexpr std::size_t digits = 64;
  std::array<char, mark.size() + digits> line{};
  std::ifstream in(path, std::ios::binary);
  in.seekg(-static_cast<std::streamoff>(line.size() + 1), std::ios::end);
  in.read(line.data(), line.size());
  const std::string_view text(line.data(), line.size());
  return in && text.starts_with(mark) ? std::string(text.substr(mark.size())) : "";
}

/// What follows from the marks that tasks leave: lock, error, what was begun.
TaskStatus from_marks(const Job& job, const std::string& task, bool in_queue, bool begun) {
  TaskStatus s;
  if (detail::TaskLock::is_held(job, task)) {
    s.state = State::running;
  } else if (in_queue) {
    s.state = State::waiting;
  } else if ((s.error = detail::kept_error(job, task))) {
    s.state = State::failed;
  } else if (begun) {
    s.state = State::lost;
  }
  return s;
}

bool knows(const Queue& queue, const std::string& number) {
  return !number.empty() && queue.contains(number);
}

TaskStatus part_status(const Job& job, std::size_t t, std::size_t p, const std::optional<Submission>& given,
                       const Queue& queue) {
  const Part& part = job.titles[t].parts[p];
  const auto task = detail::task_name(t, p);
  const auto out = part_path(job, t, p);
  const auto progress = detail::read_progress(job, task);
  TaskStatus s;
  if (detail::is_there(out)) {
    s.state = State::done;
    s.hash = stated_hash(out);
  } else if (detail::is_there(survey_path(job, t))) {
    s.state = State::done;  // its file was removed after it was joined
  } else {
    // The job that joins them tries lost parts again, but not before the array has ended.
    const bool in_queue =
        given && (knows(queue, given->array + "_" + std::to_string(p + 1)) || knows(queue, given->merge));
    s = from_marks(job, task, in_queue, progress || detail::is_there(out + ".unfinished"));
    if (s.state == State::waiting)
      if (auto error = detail::kept_error(job, task); error && !detail::worth_another_try(*error))
        s.state = State::failed, s.error = std::move(error);
  }
  s.done = s.state == State::done ? part.last - part.first : progress ? progress->done : 0;
  if (!progress) return s;
  s.complete = s.state != State::done || progress->complete;
  if (s.state == State::running && progress->seconds > 0)
    s.rate_hz = static_cast<double>(progress->done - progress->done_before) / progress->seconds;
  return s;
}

TitleStatus title_status(const Job& job, std::size_t t, const std::optional<Submission>& given, const Queue& queue) {
  TitleStatus out{.attempt = given ? given->attempt : 0};
  bool complete = true;
  std::int64_t done = 0;
  for (std::size_t p = 0; p < job.titles[t].parts.size(); ++p) {
    out.parts.push_back(part_status(job, t, p, given, queue));
    complete = complete && out.parts.back().complete;
    done += out.parts.back().done;
  }
  const bool in_queue = given && knows(queue, given->merge);
  const auto survey = survey_path(job, t);
  if (detail::is_there(survey)) {
    out.survey.state = State::done;
    out.survey.hash = stated_hash(survey);
  } else {
    out.survey = from_marks(job, detail::task_name(t), in_queue, false);
  }
  out.survey.complete = complete;
  out.survey.done = done;
  if (!job.bench) return out;
  const auto forecast = forecast_path(job, t);
  if (detail::is_there(forecast)) {
    out.forecast = TaskStatus{.state = State::done, .hash = read_file(forecast).map(sha256_hex).value_or("")};
  } else {
    out.forecast = from_marks(job, detail::forecast_task(t), in_queue, false);
  }
  return out;
}

Json task_json(const TaskStatus& s, const std::function<Json(const Error&)>& told) {
  return {{"state", name_of(s.state)},
          {"complete", s.complete},
          {"hash", s.hash.empty() ? Json(nullptr) : Json(s.hash)},
          {"error", s.error ? told(*s.error) : Json(nullptr)}};
}

}  // namespace

const char* name_of(State state) {
  switch (state) {
    case State::waiting:
      return "waiting";
    case State::running:
      return "running";
    case State::done:
      return "done";
    case State::failed:
      return "failed";
    case State::lost:
      return "lost";
  }
  return "";
}

bool JobStatus::finished() const {
  for (const auto& title : titles)
    if (title.survey.state != State::done || (title.forecast && title.forecast->state != State::done)) return false;
  return true;
}

Result<JobStatus> status(const Job& job) {
  std::vector<std::optional<Submission>> given;
  std::vector<Submission> all;
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    auto submission = submission_of(job, t);
    if (!submission) return tl::unexpected(submission.error());
    if (*submission && !detail::is_there(survey_path(job, t))) all.push_back(**submission);
    given.push_back(std::move(*submission));
  }
  // Without an answer the folder alone tells.
  const auto queue = queue_states(all).value_or(Queue{});
  JobStatus out;
  double rate_hz = 0;
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    out.titles.push_back(title_status(job, t, given[t], queue));
    out.frames += job.titles[t].frames;
    for (const auto& part : out.titles.back().parts) out.done += part.done, rate_hz += part.rate_hz;
  }
  if (rate_hz > 0) out.left_s = static_cast<double>(out.frames - out.done) / rate_hz;
  return out;
}

Json error_json(const Error& error) {
  return detail::to_json(error);
}

Json to_json(const Job& job, const JobStatus& status, const std::function<Json(const Error&)>& told) {
  Json titles = Json::array();
  for (std::size_t t = 0; t < job.titles.size(); ++t) {
    const Title& title = job.titles[t];
    const TitleStatus& s = status.titles[t];
    Json parts = Json::array();
    for (std::size_t p = 0; p < title.parts.size(); ++p) {
      Json part{{"first", title.parts[p].first}, {"last", title.parts[p].last}, {"done", s.parts[p].done}};
      part.update(task_json(s.parts[p], told));
      parts.push_back(std::move(part));
    }
    titles.push_back({{"title", file_name(title)},
                      {"frames", title.frames},
                      {"done", s.survey.done},
                      {"attempt", s.attempt},
                      {"parts", std::move(parts)},
                      {"survey", task_json(s.survey, told)},
                      {"forecast", s.forecast ? task_json(*s.forecast, told) : Json(nullptr)}});
  }
  return {{"name", std::filesystem::path(job.folder).filename().string()},
          {"software", job.software},
          {"simd_level", job.simd_level},
          {"frames", status.frames},
          {"done", status.done},
          {"left_s", status.left_s ? Json(*status.left_s) : Json(nullptr)},
          {"finished", status.finished()},
          {"titles", std::move(titles)}};
}

}  // namespace provenit::farm
