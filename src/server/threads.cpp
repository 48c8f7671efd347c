#include "threads.h"

namespace provenit::server {

void Threads::add(std::function<void()> work) {
  const std::lock_guard lock(mutex_);
  waiting_.push_back(std::move(work));
  if (waiting_.size() > idle_ && threads_.size() < most_) threads_.emplace_back([this] { this->work(); });
  wake_.notify_one();
}

void Threads::join() {
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  wake_.notify_all();
  for (auto& thread : threads_) thread.join();
}

void Threads::work() {
  for (;;) {
    std::function<void()> work;
    {
      std::unique_lock lock(mutex_);
      ++idle_;
      wake_.wait(lock, [this] { return over_ || !waiting_.empty(); });
      --idle_;
      if (waiting_.empty()) return;
      work = std::move(waiting_.front());
      waiting_.pop_front();
    }
    work();
  }
}

}  // namespace provenit::server
