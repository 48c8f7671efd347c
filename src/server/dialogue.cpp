#include "dialogue.h"

#include <fmt/format.h>

#include <sstream>
#include <streambuf>
#include <utility>

#include "provenit/base/text.h"

namespace provenit::server {

/// A line each time it runs dry.
class Dialogue::Input final : public std::streambuf {
 public:
  explicit Input(Dialogue& dialogue) : dialogue_(dialogue) {}

 protected:
  int_type underflow() override {
    const auto line = dialogue_.ask();
    if (!line) return traits_type::eof();
    line_ = *line + '\n';
    setg(line_.data(), line_.data(), line_.data() + line_.size());
    return traits_type::to_int_type(line_.front());
  }

 private:
  Dialogue& dialogue_;
  std::string line_;
};

Dialogue::Dialogue(std::function<void(const std::optional<Prompt>&)> asked)
    : asked_(std::move(asked)),
      input_(std::make_unique<Input>(*this)),
      in_(std::make_unique<std::istream>(input_.get())),
      out_(std::make_unique<std::ostringstream>()) {}

Dialogue::~Dialogue() = default;

std::istream& Dialogue::in() {
  return *in_;
}

std::ostream& Dialogue::out() {
  return *out_;
}

std::optional<std::string> Dialogue::ask() {
  auto& written = static_cast<std::ostringstream&>(*out_);
  const std::string text(trim(written.str()));
  written.str({});
  Prompt prompt;
  {
    const std::lock_guard lock(mutex_);
    if (stopped_) return std::nullopt;
    prompt = {++numbered_, text};
    waiting_ = prompt.number;
    answer_.reset();
  }
  asked_(prompt);
  std::optional<std::string> line;
  {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return stopped_ || answer_; });
    waiting_ = 0;
    if (!stopped_) line = std::exchange(answer_, std::nullopt);
  }
  asked_(std::nullopt);
  return line;
}

Result<void> Dialogue::answer(int number, const std::string& text) {
  if (text.find_first_of("\r\n") != std::string::npos)
    return fail(ErrorCode::invalid_input, "an answer is one line", "Send it without a line break.", {.field = "text"});
  {
    const std::lock_guard lock(mutex_);
    if (waiting_ == 0 || waiting_ != number || answer_)
      return fail(ErrorCode::conflict, fmt::format("prompt {} does not wait for an answer", number),
                  "Look at the run's state for what it asks now.", {.field = "number"});
    answer_ = text;
  }
  changed_.notify_all();
  return {};
}

void Dialogue::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopped_ = true;
  }
  changed_.notify_all();
}

void Dialogue::go_on() {
  const std::lock_guard lock(mutex_);
  stopped_ = false;
  in_->clear();
}

}  // namespace provenit::server
