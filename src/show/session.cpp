#include "session.h"

#include <fmt/format.h>

#include <algorithm>
#include <thread>

#include "provenit/signal/flash.h"

namespace provenit::show {
namespace {

constexpr double kAskStop_s = 0.1;
constexpr double kReload_s = 2;        // a page that is loaded anew is away for a moment
constexpr double kCloseFollows_s = 1;  // a page closed in full screen says that it left, then that it is closed

std::chrono::duration<double> span(Seconds s) {
  return std::chrono::duration<double>(s.s);
}

}  // namespace

/// Waits until `ready`, the time is over or a stop is asked for. Gives whether it is ready.
template <class Ready>
bool Session::wait_for(std::unique_lock<std::mutex>& lock, Seconds longest, Ready ready) {
  const auto end = std::chrono::steady_clock::now() + span(longest);
  while (!ready()) {
    const auto now = std::chrono::steady_clock::now();
    if (now >= end || stopped()) return false;
    changed_.wait_for(lock, std::min<std::chrono::duration<double>>(end - now, span({kAskStop_s})));
  }
  return true;
}

Result<void> Session::why_left(std::unique_lock<std::mutex>& lock) {
  left_ = false;
  if (wait_for(lock, {kCloseFollows_s}, [&] { return page_.empty(); })) return closed_early();
  return fail(ErrorCode::cancelled, "the page was left", "Press Start on it and run again to go on.");
}

Result<void> Session::closed_early() const {
  return fail(ErrorCode::io, "the page was closed before the signal was up",
              "Open " + address_ + " again, press Start and run again to go on.");
}

Result<void> Session::await_start(std::unique_lock<std::mutex>& lock) {
  if (wait_for(lock, options_.start_time, [&] { return started_ || left_; }) && started_) return {};
  if (left_) return why_left(lock);
  if (stopped()) return fail(ErrorCode::cancelled, "stopped");
  if (page_.empty())
    return fail(ErrorCode::timeout, fmt::format("no page was opened within {:.0f} s", options_.start_time.s),
                "Open " + address_ + " in a browser on the display, read the cautions and press Start.");
  return fail(ErrorCode::timeout,
              fmt::format("the page is open but was not started within {:.0f} s", options_.start_time.s),
              "Read the cautions on it and press Start.");
}

Result<void> Session::await_answer(std::unique_lock<std::mutex>& lock) {
  const auto answered = [&] { return answered_ == number_ || left_; };
  const auto end = std::chrono::steady_clock::now() + span(options_.answer_time);
  while (std::chrono::steady_clock::now() < end && !stopped()) {
    const Seconds rest{std::chrono::duration<double>(end - std::chrono::steady_clock::now()).count()};
    if (wait_for(lock, rest, [&] { return answered() || page_.empty(); }) && answered()) break;
    if (!page_.empty()) continue;
    if (!wait_for(lock, {std::min(rest.s, kReload_s)}, [&] { return !page_.empty() || answered(); }) && !stopped())
      return closed_early();
  }
  if (answered_ == number_) return outcome_;
  if (left_) return why_left(lock);
  if (stopped()) return fail(ErrorCode::cancelled, "stopped");
  return fail(ErrorCode::timeout,
              fmt::format("the page did not confirm the signal within {:.0f} s", options_.answer_time.s),
              "Keep its window in front and the screen awake; load it anew if it hangs, then run again to go on.");
}

Result<void> Session::show(const Frame& frame) {
  std::unique_lock lock(mutex_);
  if (auto started = await_start(lock); !started) return started;
  if (up_since_ && !options_.flashing_confirmed) {
    const auto calm = *up_since_ + span({signal::kCalmHold_s});
    lock.unlock();
    std::this_thread::sleep_until(calm);
    lock.lock();
  }
  ++number_;
  frame_ = frame;
  drawn_.reset();
  changed_.notify_all();
  auto shown = await_answer(lock);
  if (shown) up_since_ = std::chrono::steady_clock::now();
  return shown;
}

std::optional<Wish> Session::wish(Seconds wait) {
  std::unique_lock lock(mutex_);
  if (!wait_for(lock, wait, [&] { return !wishes_.empty() || left_; })) return std::nullopt;
  if (left_) {
    left_ = false;
    return Wish::leave;
  }
  const auto wish = wishes_.front();
  wishes_.pop_front();
  return wish;
}

void Session::set_stop(std::function<bool()> stop) {
  const std::scoped_lock lock(mutex_);
  stop_ = std::move(stop);
}

void Session::close() {
  const std::scoped_lock lock(mutex_);
  closed_ = true;
  changed_.notify_all();
}

signal::RasterSize Session::size() const {
  const std::scoped_lock lock(mutex_);
  return size_;
}

void Session::connect(const std::string& page) {
  const std::scoped_lock lock(mutex_);
  page_ = page;
  started_ = false;
  changed_.notify_all();
}

void Session::disconnect(const std::string& page) {
  const std::scoped_lock lock(mutex_);
  if (page != page_) return;
  page_.clear();
  started_ = false;
  changed_.notify_all();
}

void Session::start(const std::string& page) {
  const std::scoped_lock lock(mutex_);
  if (page != page_) return;
  started_ = true, left_ = false;
  changed_.notify_all();
}

void Session::leave(const std::string& page) {
  const std::scoped_lock lock(mutex_);
  if (page != page_ || !started_) return;
  started_ = false, left_ = true;
  changed_.notify_all();
}

void Session::ask(const std::string& page, Wish wish) {
  const std::scoped_lock lock(mutex_);
  // A key held down must not pile up steps.
  if (page != page_ || !started_ || !wishes_.empty()) return;
  wishes_.push_back(wish);
  changed_.notify_all();
}

void Session::answer(const Answer& answer) {
  const std::scoped_lock lock(mutex_);
  if (answer.page != page_ || answer.number != number_ || (!drawn_ && answer.trouble.empty())) return;
  outcome_ = answer.trouble.empty() ? check_answer(answer, *drawn_, options_.full_screen)
                                    : fail(ErrorCode::io, "the page could not show the signal: " + answer.trouble,
                                           "Try a current browser, and look into its console.");
  size_ = answer.size;
  answered_ = number_;
  changed_.notify_all();
}

Result<std::shared_ptr<const Drawn>> Session::drawn(std::uint64_t number, signal::RasterSize size) {
  Frame frame;
  {
    const std::scoped_lock lock(mutex_);
    if (number != number_ || number == 0) return fail(ErrorCode::not_found, "this frame is no longer shown");
    if (drawn_ && drawn_->size == size) return drawn_;
    frame = frame_;
  }
  auto rgba = rgba_of(frame, size);
  const std::scoped_lock lock(mutex_);
  if (number != number_) return fail(ErrorCode::not_found, "this frame is no longer shown");
  if (!rgba) {
    outcome_ = tl::unexpected(rgba.error());
    answered_ = number_;
    changed_.notify_all();
    return tl::unexpected(rgba.error());
  }
  drawn_ = std::make_shared<const Drawn>(Drawn{number, size, std::move(*rgba)});
  return drawn_;
}

std::optional<nlohmann::json> Session::next_event(const std::string& page, std::uint64_t known, Seconds wait) {
  std::unique_lock lock(mutex_);
  const auto news = [&] { return page != page_ || closed_ || (started_ && number_ > known); };
  changed_.wait_for(lock, span(wait), news);
  if (page != page_ || closed_) return std::nullopt;
  if (!started_ || number_ <= known) return nlohmann::json();
  return nlohmann::json{{"number", number_}, {"title", frame_.title}};
}

}  // namespace provenit::show
