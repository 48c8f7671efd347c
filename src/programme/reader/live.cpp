// Live inputs: a thread that receives and decodes, a short queue, and patience with senders that go and come.
#include "provenit/programme/live.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>

#include "reader/av_format.h"
#include "reader/live_address.h"
#include "reader/moving.h"

namespace provenit::programme {
namespace {

using Clock = std::chrono::steady_clock;
constexpr auto kPoll = std::chrono::milliseconds(50);
constexpr double kLongestStep_s = 10;  // between pictures of one run of a sender

Clock::duration seconds(double s) {
  return std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(s));
}

// Seconds of the session for time stamps that may begin anew whenever the sender does.
class SessionTime {
 public:
  // A run of time stamps begins: its first picture comes as long after the last one as it did by the clock.
  void begin_run() { run_ = false; }
  // True if the stamp does not continue the run.
  [[nodiscard]] bool breaks(double stamp_s) const {
    return run_ && (stamp_s <= last_stamp_s_ || stamp_s > last_stamp_s_ + kLongestStep_s);
  }
  double at(double stamp_s) {
    const Clock::time_point now = Clock::now();
    if (!run_) {
      const double since = any_ ? std::chrono::duration<double>(now - last_clock_).count() : 0;
      offset_s_ = last_s_ + since - stamp_s;
    }
    run_ = any_ = true;
    last_clock_ = now;
    last_stamp_s_ = stamp_s;
    return last_s_ = stamp_s + offset_s_;
  }
  [[nodiscard]] double last_stamp_s() const { return last_stamp_s_; }
  [[nodiscard]] bool in_run() const { return run_; }

 private:
  bool run_ = false, any_ = false;
  double offset_s_ = 0, last_s_ = 0, last_stamp_s_ = 0;
  Clock::time_point last_clock_;
};

class LiveSource : public LiveReader {
 public:
  LiveSource(std::string name, LiveAddress address, LiveOptions options)
      : name_(std::move(name)), address_(std::move(address)), options_(std::move(options)) {}
  ~LiveSource() override {
    stop_ = true;
    if (worker_.joinable()) worker_.join();
  }

  // Waits for the first picture.
  Result<void> start() {
    deadline_ = (Clock::now() + seconds(options_.open_timeout_s)).time_since_epoch().count();
    worker_ = std::thread([this] { run(); });
    std::unique_lock lock(mutex_);
    while (!ready_ && !error_ && !ended_) {
      changed_.wait_for(lock, kPoll);
      if (asked_to_stop(lock)) return fail(ErrorCode::cancelled, "stopped before a picture came", {}, {.file = name_});
    }
    if (error_) return tl::unexpected(*error_);
    if (ready_) return {};
    return fail(ErrorCode::timeout,
                fmt::format("no picture came in {:g} s{}", options_.open_timeout_s,
                            last_failure_.empty() ? "" : " (" + last_failure_ + ")"),
                "Start the sender, or check address and port.", {.file = name_});
  }

  [[nodiscard]] const SourceInfo& info() const override { return info_; }
  [[nodiscard]] const std::vector<std::string>& troubles() const override {
    const std::lock_guard lock(mutex_);
    told_ = troubles_;
    return told_;
  }
  [[nodiscard]] LiveState state() const override {
    const std::lock_guard lock(mutex_);
    return state_;
  }

  [[nodiscard]] Result<std::optional<Picture>> next() override {
    std::unique_lock lock(mutex_);
    for (;;) {
      if (asked_to_stop(lock)) return std::optional<Picture>{};
      if (!queue_.empty()) {
        Picture picture = std::move(queue_.front());
        queue_.pop_front();
        return std::optional<Picture>(std::move(picture));
      }
      if (error_) return tl::unexpected(*error_);
      if (ended_) return std::optional<Picture>{};
      changed_.wait_for(lock, kPoll);
    }
  }

 private:
  // The caller's question is put without the lock: it may look at state().
  bool asked_to_stop(std::unique_lock<std::mutex>& lock) {
    if (stop_) return true;
    if (!options_.stop) return false;
    lock.unlock();
    if (options_.stop()) stop_ = true;
    lock.lock();
    return stop_;
  }

  // ---- the worker's side

  [[nodiscard]] bool is_late() const { return Clock::now().time_since_epoch().count() > deadline_; }
  void set_deadline(double s) {
    deadline_ = s > 0 ? (Clock::now() + seconds(s)).time_since_epoch().count()
                      : Clock::time_point::max().time_since_epoch().count();
  }

  void run() {
    while (!stop_) {
      auto source = AvSource::open(name_, address_.url, opening());
      if (source) {
        receive(**source);
      } else if (source.error().code == ErrorCode::unsupported) {
        return end_with(source.error());
      } else {
        const std::lock_guard lock(mutex_);
        last_failure_ = source.error().message;
      }
      if (stop_ || failed() || gave_up()) break;
      std::this_thread::sleep_for(kPoll);
    }
    const std::lock_guard lock(mutex_);
    ended_ = true;
    state_.connected = false;
    changed_.notify_all();
  }

  [[nodiscard]] AvOpening opening() {
    return {.threads = options_.reading.threads,
            .demuxer = address_.demuxer,
            .protocols = address_.protocols,
            .options = nullptr,
            .interrupt = [this] { return stop_ || is_late(); },
            .probe_s = 1};
  }

  // Pictures of one connection, until the sender falls silent.
  void receive(AvSource& source) {
    time_.begin_run();
    while (!stop_) {
      std::optional<AvDecoded> decoded = source.next();
      if (!decoded) break;
      set_deadline(options_.silence_timeout_s);
      if (!accept(source, *decoded)) break;
    }
    const std::lock_guard lock(mutex_);
    keep_troubles(source);
    past_troubles_ = troubles_;
    state_.connected = false;
    if (ready_) set_deadline(options_.give_up_s);
  }

  [[nodiscard]] bool failed() {
    const std::lock_guard lock(mutex_);
    return error_.has_value();
  }
  // Before the first picture: the time to wait for a sender is over. After it: so is the time without a picture.
  [[nodiscard]] bool gave_up() {
    const std::lock_guard lock(mutex_);
    if (!is_late()) return false;
    if (ready_) troubles_.push_back(fmt::format("given up after {:g} s without a picture", options_.give_up_s));
    return true;
  }

  void end_with(const Error& error) {
    const std::lock_guard lock(mutex_);
    error_ = error;
    ended_ = true;
    state_.connected = false;
    changed_.notify_all();
  }

  // False if the session cannot go on.
  bool accept(const AvSource& source, AvDecoded& decoded) {
    if (!kind_) {
      if (const auto described = describe_first(source, *decoded.frame); !described) {
        end_with(described.error());
        return false;
      }
    } else if (const auto same = check_same_kind(name_, *kind_, *decoded.frame, received_); !same) {
      end_with(same.error());
      return false;
    }
    const double stamp_s = stamp_of(source, decoded);
    const bool restarted = time_.breaks(stamp_s);
    // What could not be decoded before the first picture of a run was never to be shown.
    const bool follows = time_.in_run() && !restarted;
    const std::int64_t lost = follows ? std::max(missing_before(stamp_s), decoded.lost_before) : 0;
    if (restarted) time_.begin_run();
    Picture picture = picture_of(std::move(decoded.frame), info_.format);
    picture.index = received_++;
    picture.time_s = time_.at(stamp_s);
    picture.damaged = decoded.damaged;
    push(source, std::move(picture), restarted, lost);
    return true;
  }

  void push(const AvSource& source, Picture picture, bool restarted, std::int64_t lost) {
    const std::lock_guard lock(mutex_);
    keep_troubles(source);
    if (ready_ && (restarted || !state_.connected)) ++state_.interruptions;
    ready_ = state_.connected = true;
    state_.received = received_;
    state_.lost += lost;
    queue_.push_back(std::move(picture));
    while (queue_.size() > static_cast<std::size_t>(std::max(1, options_.queue))) {
      queue_.pop_front();
      ++state_.dropped;
    }
    changed_.notify_all();
  }

  Result<void> describe_first(const AvSource& source, const AVFrame& frame) {
    auto info = describe_source(name_, source, frame, options_.reading);
    if (!info) return tl::unexpected(info.error());
    kind_ = kind_of(frame);
    if (!kind_) return fail(ErrorCode::io, "out of memory", "Close other programs.", {.file = name_});
    info_ = std::move(*info);
    info_.frames.reset();
    info_.duration_s.reset();
    return {};
  }

  [[nodiscard]] double frame_s() const {
    return info_.frame_rate_numerator > 0
               ? static_cast<double>(info_.frame_rate_denominator) / static_cast<double>(info_.frame_rate_numerator)
               : 0;
  }
  [[nodiscard]] double stamp_of(const AvSource& source, const AvDecoded& decoded) const {
    if (decoded.pts != AV_NOPTS_VALUE) return seconds_of(decoded.pts, 0, source.stream().time_base);
    return time_.last_stamp_s() + frame_s();
  }
  // Pictures that should have come since the last one, where the rate is known.
  [[nodiscard]] std::int64_t missing_before(double stamp_s) const {
    if (frame_s() <= 0) return 0;
    return std::max<std::int64_t>(0, std::llround((stamp_s - time_.last_stamp_s()) / frame_s()) - 1);
  }

  void keep_troubles(const AvSource& source) {
    troubles_ = past_troubles_;
    const auto& now = source.troubles().lines();
    troubles_.insert(troubles_.end(), now.begin(), now.end());
  }

  const std::string name_;
  const LiveAddress address_;
  const LiveOptions options_;

  // Of the worker, and of the caller once ready_ is seen under the lock and nobody changes them any more.
  SourceInfo info_;
  FramePtr kind_;
  SessionTime time_;
  std::int64_t received_ = 0;
  std::atomic<Clock::rep> deadline_{0};
  std::atomic<bool> stop_{false};

  mutable std::mutex mutex_;  // for all below
  std::condition_variable changed_;
  std::deque<Picture> queue_;
  LiveState state_;
  bool ready_ = false, ended_ = false;
  std::optional<Error> error_;
  std::string last_failure_;
  std::vector<std::string> troubles_, past_troubles_;
  mutable std::vector<std::string> told_;
  std::thread worker_;
};

}  // namespace

Result<std::unique_ptr<LiveReader>> open_live(const std::string& address, const LiveOptions& options) {
  const auto asked = live_address(address);
  if (!asked) return tl::unexpected(asked.error());
  auto source = std::make_unique<LiveSource>(address, *asked, options);
  if (const auto started = source->start(); !started) return tl::unexpected(started.error());
  return source;
}

}  // namespace provenit::programme
