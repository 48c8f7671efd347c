#pragma once
// The one test picture that this server shows on a full-screen page, and what people wish of it.
#include <atomic>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "provenit/report/records_json.h"
#include "provenit/server/events.h"
#include "provenit/show/screen.h"
#include "provenit/signal/test_picture.h"

namespace provenit::server {

class ShowJob {
 public:
  explicit ShowJob(EventHub& hub) : hub_(hub) {}
  ~ShowJob();

  /// Opens a page that waits for somebody to open and start it. Errors: conflict if one is shown; unsupported for an
  /// encoding that a page cannot show; out_of_range for flashing that nobody confirmed.
  [[nodiscard]] Result<void> start(const signal::PictureRequest& request, int first, bool flashing_confirmed);
  /// Errors: conflict if nothing is shown.
  [[nodiscard]] Result<void> ask(show::Wish wish);
  /// Schema Showing.
  [[nodiscard]] report::Json state() const;

 private:
  struct Work;
  void work(Work& work);
  std::optional<show::Wish> next_wish(show::Screen& screen, double longest_s);
  void publish();

  EventHub& hub_;
  mutable std::mutex mutex_;
  std::string state_ = "idle", picture_, title_, address_, frame_text_;
  std::vector<std::string> cautions_;
  int frame_ = 0, frames_ = 0;
  double longest_s_ = 0;
  std::optional<Error> problem_;
  std::deque<show::Wish> wishes_;
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace provenit::server
