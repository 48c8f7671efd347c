#pragma once
// What the page and the one who shows frames know of each other. Both sides may call at once.
#include <chrono>
#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "provenit/show/page.h"

namespace provenit::show {

/// A frame as the page gets it.
struct Drawn {
  std::uint64_t number = 0;
  signal::RasterSize size;
  std::string rgba;  ///< 8 bits each, row by row
};

/// What a page says once a frame is up.
struct Answer {
  std::string page;
  std::uint64_t number = 0;
  signal::RasterSize size;
  bool full_screen = false, one_to_one = false;
  std::vector<std::array<int, 5>> read_back;  ///< x, y, R, G, B
  std::string trouble;                        ///< the page could not; why
};
/// Errors: invalid_input.
[[nodiscard]] Result<Answer> answer_from(std::string_view json);

/// 8-bit pixels for the page. Errors: those of drawing; out_of_range for more than 64 million pixels.
[[nodiscard]] Result<std::string> rgba_of(const Frame& frame, signal::RasterSize size);
/// Whether the answer is right for what was drawn. Errors: io, conflict.
[[nodiscard]] Result<void> check_answer(const Answer& answer, const Drawn& drawn, bool full_screen);

class Session {
 public:
  explicit Session(PageOptions options) : options_(std::move(options)) {}

  // From the one who shows:
  Result<void> show(const Frame& frame);
  std::optional<Wish> wish(Seconds wait);
  void set_stop(std::function<bool()> stop);
  void close();
  [[nodiscard]] signal::RasterSize size() const;

  // From the page:
  void connect(const std::string& page);
  void disconnect(const std::string& page);
  void start(const std::string& page);
  void leave(const std::string& page);
  void ask(const std::string& page, Wish wish);
  void answer(const Answer& answer);
  /// The pixels of the frame of that number. Errors: not_found if another is shown by now; those of rgba_of.
  Result<std::shared_ptr<const Drawn>> drawn(std::uint64_t number, signal::RasterSize size);
  /// The next thing to tell the page after the frame `known`; empty if nothing came in that time. nullopt: the page has
  /// been taken over, or all is over.
  std::optional<nlohmann::json> next_event(const std::string& page, std::uint64_t known, Seconds wait);

  void set_address(std::string address) { address_ = std::move(address); }
  [[nodiscard]] const std::string& address() const { return address_; }
  [[nodiscard]] const PageOptions& options() const { return options_; }

 private:
  using Time = std::chrono::steady_clock::time_point;
  template <class Ready>
  bool wait_for(std::unique_lock<std::mutex>& lock, Seconds longest, Ready ready);
  Result<void> await_start(std::unique_lock<std::mutex>& lock);
  Result<void> await_answer(std::unique_lock<std::mutex>& lock);
  /// The page was left: by a key, or because it was closed?
  Result<void> why_left(std::unique_lock<std::mutex>& lock);
  [[nodiscard]] Result<void> closed_early() const;
  [[nodiscard]] bool stopped() const { return closed_ || (stop_ && stop_()); }

  PageOptions options_;
  std::string address_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::function<bool()> stop_;
  std::string page_;  ///< the one that counts; empty: none is open
  bool started_ = false, left_ = false, closed_ = false;
  std::uint64_t number_ = 0, answered_ = 0;
  Frame frame_;
  std::shared_ptr<const Drawn> drawn_;
  Result<void> outcome_;
  signal::RasterSize size_{0, 0};
  std::deque<Wish> wishes_;
  std::optional<Time> up_since_;
};

}  // namespace provenit::show
