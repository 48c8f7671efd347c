#include "provenit/server/events.h"

#include <fmt/format.h>

#include "provenit/base/text.h"

namespace provenit::server {
namespace {

constexpr std::size_t kAtOnce = 1 << 16;  // bytes a listener is sent in one go

}  // namespace

EventHub::EventHub(std::string session, std::size_t kept) : session_(std::move(session)), kept_(kept) {}

std::string EventHub::id_of(std::uint64_t number) const {
  return fmt::format("{}-{}", session_, number);
}

void EventHub::publish(std::string_view name, std::string_view data) {
  {
    const std::lock_guard lock(mutex_);
    if (closed_) return;
    const auto number = first_ + events_.size();
    events_.push_back(
        std::make_shared<const std::string>(fmt::format("id: {}\nevent: {}\ndata: {}\n\n", id_of(number), name, data)));
    if (events_.size() > kept_) events_.pop_front(), ++first_;
  }
  changed_.notify_all();
}

void EventHub::close() {
  {
    const std::lock_guard lock(mutex_);
    closed_ = true;
  }
  changed_.notify_all();
}

EventHub::Place EventHub::place(std::string_view last_id) const {
  const std::lock_guard lock(mutex_);
  const auto end = first_ + events_.size();
  if (last_id.empty()) return {.next = end};
  const auto dash = last_id.rfind('-');
  if (dash == std::string_view::npos || last_id.substr(0, dash) != session_) return {.next = end, .gap = "restarted"};
  const auto number = parse_integer(last_id.substr(dash + 1));
  if (!number || *number < 0 || static_cast<std::uint64_t>(*number) >= end) return {.next = end, .gap = "restarted"};
  const auto next = static_cast<std::uint64_t>(*number) + 1;
  if (next < first_) return {.next = end, .gap = "too_old"};
  return {.next = next};
}

std::optional<std::string> EventHub::next(Place& place, std::chrono::milliseconds wait) const {
  std::vector<std::shared_ptr<const std::string>> due;
  std::string text;
  {
    std::unique_lock lock(mutex_);
    const auto something = [&] { return closed_ || !place.gap.empty() || place.next < first_ + events_.size(); };
    if (!place.fresh) changed_.wait_for(lock, wait, something);
    if (closed_) return std::nullopt;
    if (place.next < first_) {
      place.gap = "too_slow";
      place.next = first_ + events_.size();
    }
    if (!place.gap.empty()) {
      // Its id is that of the last event left out, so that a listener which comes back goes on behind the gap.
      text = fmt::format("id: {}\nevent: gap\ndata: {{\"reason\":\"{}\"}}\n\n", id_of(place.next - 1), place.gap);
      place.gap.clear();
    }
    // A listener that is cut off before its first event comes back to where it was.
    if (place.fresh && text.empty()) text = fmt::format("id: {}\n\n", id_of(place.next - 1));
    place.fresh = false;
    std::size_t bytes = text.size();
    for (; place.next < first_ + events_.size() && bytes < kAtOnce; ++place.next) {
      due.push_back(events_[place.next - first_]);
      bytes += due.back()->size();
    }
  }
  for (const auto& event : due) text += *event;
  return text;
}

}  // namespace provenit::server
