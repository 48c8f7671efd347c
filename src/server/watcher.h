#pragma once
// Tells listeners of everything that is written to the bench, whoever writes it: a run of this server, or the command
// in another window.
#include <condition_variable>
#include <mutex>
#include <thread>

#include "provenit/server/events.h"
#include "provenit/store/bench.h"

namespace provenit::server {

class Watcher {
 public:
  Watcher(std::string path, EventHub& hub);
  ~Watcher();
  Watcher(const Watcher&) = delete;
  Watcher& operator=(const Watcher&) = delete;

  /// Something was written by this server: look now. Returns at once.
  void look();
  /// The next change is this server's own, and listeners are told by who makes it.
  void expect_own();
  /// The same for every change until it is called with false.
  void expect_own_run(bool running);

 private:
  void watch();
  void tell(store::Bench& bench);

  std::string path_;
  EventHub& hub_;
  std::mutex mutex_;
  std::condition_variable wake_;
  bool stop_ = false, look_ = false, own_ = false, own_run_ = false;
  bool was_there_;  // when the server began: what it holds from then on is news
  store::Bench::Newest told_;
  std::int64_t version_ = 0;
  std::thread thread_;
};

}  // namespace provenit::server
