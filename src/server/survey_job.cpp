#include "survey_job.h"

#include "parts.h"
#include "provenit/programme/bench.h"

namespace provenit::server {
namespace {

constexpr std::chrono::milliseconds kTellEvery{200};

}  // namespace

SurveyJob::SurveyJob(std::string bench_path, std::string software, EventHub& hub)
    : bench_path_(std::move(bench_path)), software_(std::move(software)), hub_(hub) {}

SurveyJob::~SurveyJob() {
  stop_ = true;
  if (thread_.joinable()) thread_.join();
}

const char* SurveyJob::name_of(State state) {
  switch (state) {
    case State::idle:
      return "idle";
    case State::running:
      return "running";
    case State::cancelling:
      return "cancelling";
    case State::done:
      return "done";
    case State::cancelled:
      return "cancelled";
    case State::failed:
      break;
  }
  return "failed";
}

Result<void> SurveyJob::start(const std::string& path, const std::string& name,
                              const programme::ReaderOptions& reading) {
  std::thread before;
  {
    const std::lock_guard lock(mutex_);
    if (state_ == State::running || state_ == State::cancelling)
      return fail(ErrorCode::conflict, "a survey of " + file_ + " is being made",
                  "Wait for its end, or cancel it: what was measured is kept.");
    before = std::move(thread_);
    state_ = State::running;
    file_ = name;
    done_ = total_ = survey_ = 0;
    done_before_ = -1;
    max_cdm2_ = mean_cdm2_ = rate_hz_ = 0;
    problem_.reset();
    stop_ = false;
    began_ = std::chrono::steady_clock::now();
  }
  if (before.joinable()) before.join();
  const std::lock_guard lock(mutex_);
  thread_ = std::thread([this, path, name, reading] { work(path, name, reading); });
  return {};
}

Result<void> SurveyJob::cancel() {
  {
    const std::lock_guard lock(mutex_);
    if (state_ != State::running) return fail(ErrorCode::conflict, "no survey is being made", "Start one.");
    state_ = State::cancelling;
    stop_ = true;
  }
  publish();
  return {};
}

bool SurveyJob::progress(const programme::SurveyProgress& p) {
  const auto now = std::chrono::steady_clock::now();
  bool tell = false;
  {
    const std::lock_guard lock(mutex_);
    if (done_before_ < 0) done_before_ = p.done - 1, began_ = now;
    done_ = p.done;
    total_ = p.total;
    if (p.latest != nullptr) max_cdm2_ = p.latest->max_rgb_max, mean_cdm2_ = p.latest->max_rgb_mean;
    const double spent_s = std::chrono::duration<double>(now - began_).count();
    if (spent_s > 0) rate_hz_ = static_cast<double>(done_ - done_before_) / spent_s;
    tell = now - told_ >= kTellEvery;
    if (tell) told_ = now;
  }
  if (tell) publish();
  return !stop_;
}

void SurveyJob::work(const std::string& path, const std::string& name, const programme::ReaderOptions& reading) {
  publish();
  const auto out = programme::working_survey_path(bench_path_, name);
  programme::SurveyOptions options{.reading = reading, .software = software_};
  options.progress = [this](const programme::SurveyProgress& p) { return progress(p); };
  const auto made = [&]() -> Result<std::optional<store::Id>> {
    const auto outcome = programme::survey_title(path, out, options);
    if (!outcome) return tl::unexpected(outcome.error());
    if (outcome->stopped) return std::nullopt;
    auto bench = store::Bench::open(bench_path_);
    if (!bench) return tl::unexpected(bench.error());
    const auto id = programme::move_into_bench(out, *bench, machine_time());
    if (!id) return tl::unexpected(id.error());
    return *id;
  }();
  {
    const std::lock_guard lock(mutex_);
    state_ = !made ? State::failed : *made ? State::done : State::cancelled;
    if (!made) problem_ = made.error();
    if (made && *made) survey_ = **made;
  }
  publish();
  if (made && *made)
    hub_.publish("changed", report::Json{{"what", "bench"}, {"loan", nullptr}, {"by", "server"}}.dump());
}

report::Json SurveyJob::state() const {
  using report::Json;
  const std::lock_guard lock(mutex_);
  const double left_s = rate_hz_ > 0 && total_ > done_ ? static_cast<double>(total_ - done_) / rate_hz_ : 0;
  return {{"state", name_of(state_)},
          {"file", file_.empty() ? Json(nullptr) : Json(file_)},
          {"done", done_},
          {"total", total_},
          {"frames_per_s", rate_hz_},
          {"left_s", left_s},
          {"max_cdm2", max_cdm2_},
          {"mean_cdm2", mean_cdm2_},
          {"survey", survey_ == 0 ? Json(nullptr) : Json(survey_)},
          {"problem", problem_ ? problem_json(*problem_, bench_path_) : Json(nullptr)}};
}

void SurveyJob::publish() {
  hub_.publish("survey", state().dump());
}

}  // namespace provenit::server
