#include "clip_job.h"

#include <utility>

#include "parts.h"

namespace provenit::server {
namespace {

constexpr std::chrono::milliseconds kTellEvery{200};

}  // namespace

ClipJob::ClipJob(std::string bench_path, EventHub& hub) : bench_path_(std::move(bench_path)), hub_(hub) {}

ClipJob::~ClipJob() {
  stop_ = true;
  if (thread_.joinable()) thread_.join();
}

Result<void> ClipJob::start(signal::TestPicture picture, const std::filesystem::path& path,
                            const signal::PictureFileChoice& choice) {
  const auto frames = signal::clip_frames(picture, path, choice);
  if (!frames) return tl::unexpected(frames.error());
  std::thread before;
  {
    const std::lock_guard lock(mutex_);
    if (state_ == "running" || state_ == "cancelling")
      return fail(ErrorCode::conflict, file_ + " is being written", "Wait for its end, or cancel it.");
    before = std::move(thread_);
    state_ = "running";
    folder_ = path.parent_path().filename();
    file_ = path.filename();
    format_.clear();
    done_ = bytes_ = 0;
    total_ = *frames;
    problem_.reset();
    stop_ = false;
  }
  if (before.joinable()) before.join();
  const std::lock_guard lock(mutex_);
  thread_ = std::thread([this, picture = std::move(picture), path, choice] { work(picture, path, choice); });
  return {};
}

Result<void> ClipJob::cancel() {
  {
    const std::lock_guard lock(mutex_);
    if (state_ != "running") return fail(ErrorCode::conflict, "no clip is being written", "Start one.");
    state_ = "cancelling";
    stop_ = true;
  }
  publish();
  return {};
}

bool ClipJob::progress(int done, int total) {
  const auto now = std::chrono::steady_clock::now();
  bool tell = false;
  {
    const std::lock_guard lock(mutex_);
    done_ = done;
    total_ = total;
    tell = now - told_ >= kTellEvery;
    if (tell) told_ = now;
  }
  if (tell) publish();
  return !stop_;
}

void ClipJob::work(const signal::TestPicture& picture, const std::filesystem::path& path,
                   const signal::PictureFileChoice& choice) {
  publish();
  const auto written = signal::write_picture_file(picture, 0, path, choice,
                                                  [this](int done, int total) { return progress(done, total); });
  {
    const std::lock_guard lock(mutex_);
    if (written) {
      std::error_code ec;
      state_ = "done";
      format_ = *written;
      bytes_ = static_cast<std::int64_t>(std::filesystem::file_size(path, ec));
    } else if (written.error().code == ErrorCode::cancelled) {
      state_ = "cancelled";
    } else {
      state_ = "failed";
      problem_ = written.error();
    }
  }
  publish();
}

report::Json ClipJob::state() const {
  using report::Json;
  const std::lock_guard lock(mutex_);
  return {{"state", state_},
          {"folder", folder_.empty() ? Json(nullptr) : Json(folder_)},
          {"file", file_.empty() ? Json(nullptr) : Json(file_)},
          {"format", format_},
          {"done", done_},
          {"total", total_},
          {"bytes", bytes_},
          {"problem", problem_ ? problem_json(*problem_, bench_path_) : Json(nullptr)}};
}

void ClipJob::publish() {
  hub_.publish("clip", state().dump());
}

}  // namespace provenit::server
