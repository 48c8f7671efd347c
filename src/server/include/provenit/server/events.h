#pragma once
// What happens, told to any number of listeners. The newest events are kept once, for all; a listener is a place in
// them, so one that is slow, asleep or gone costs nothing and holds nobody back.
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace provenit::server {

class EventHub {
 public:
  /// `session` tells events of this server from those of one before it.
  explicit EventHub(std::string session, std::size_t kept = 8192);

  /// Data is one line of JSON. Never waits for a listener.
  void publish(std::string_view name, std::string_view data);
  /// Every listener is told that it is over.
  void close();

  /// A place among the events.
  struct Place {
    std::uint64_t next = 0;
    std::string gap;    ///< why what lies before was left out, to be told first; empty: nothing was
    bool fresh = true;  ///< nothing was sent yet: the listener does not know where it is
  };
  /// `last_id` is the id of the last event a listener has, as it was sent; empty: it begins now.
  [[nodiscard]] Place place(std::string_view last_id) const;

  /// What a listener at this place is sent next, as text/event-stream, some 64 kB at most; moves the place. Waits up to
  /// `wait` for something to come: empty if nothing did. nullopt once the hub is closed.
  [[nodiscard]] std::optional<std::string> next(Place& place, std::chrono::milliseconds wait) const;

 private:
  [[nodiscard]] std::string id_of(std::uint64_t number) const;

  std::string session_;
  std::size_t kept_;
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  std::deque<std::shared_ptr<const std::string>> events_;
  std::uint64_t first_ = 1;  // number of events_.front()
  bool closed_ = false;
};

}  // namespace provenit::server
