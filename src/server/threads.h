#pragma once
// Threads for connections, made when they are needed: most of them wait, for an event or for the next request.
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace provenit::server {

class Threads {
 public:
  explicit Threads(std::size_t most) : most_(most) {}

  /// Work beyond `most` at once waits for a thread.
  void add(std::function<void()> work);
  /// Returns when what was added is done.
  void join();

 private:
  void work();

  const std::size_t most_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::function<void()>> waiting_;
  std::vector<std::thread> threads_;
  std::size_t idle_ = 0;
  bool over_ = false;
};

}  // namespace provenit::server
