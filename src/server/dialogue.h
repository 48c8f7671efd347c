#pragma once
// What a run asks an operator, and the answers, over streams on the run's side and as numbered prompts on the other.
#include <condition_variable>
#include <functional>
#include <istream>
#include <memory>
#include <mutex>
#include <optional>
#include <ostream>
#include <string>

#include "provenit/base/error.h"

namespace provenit::server {

class Dialogue {
 public:
  struct Prompt {
    int number = 0;
    std::string text;
  };
  /// `asked` is called on the run's thread with each prompt, and with nothing once it is answered.
  explicit Dialogue(std::function<void(const std::optional<Prompt>&)> asked);
  ~Dialogue();

  // For the run: what is written to out() since the last line was read becomes the prompt of the next.
  [[nodiscard]] std::istream& in();
  [[nodiscard]] std::ostream& out();

  /// Errors: conflict unless a prompt of this number waits; invalid_input for more than one line.
  [[nodiscard]] Result<void> answer(int number, const std::string& text);
  /// in() ends, now and whenever it is read, until the next call of go_on().
  void stop();
  void go_on();

 private:
  class Input;
  friend class Input;
  std::optional<std::string> ask();

  std::function<void(const std::optional<Prompt>&)> asked_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<std::string> answer_;
  int waiting_ = 0, numbered_ = 0;  // number of the prompt that waits; 0: none does
  bool stopped_ = false;
  std::unique_ptr<Input> input_;
  std::unique_ptr<std::istream> in_;
  std::unique_ptr<std::ostream> out_;
};

}  // namespace provenit::server
