#include "import/delimited.h"

#include "provenit/base/text.h"

namespace provenit::instrument {
namespace {

/// Length of the line break at the front, 0 if there is none.
std::size_t break_length(std::string_view text) {
  if (text.starts_with("\r\n")) return 2;
  return !text.empty() && (text.front() == '\n' || text.front() == '\r') ? 1 : 0;
}

class Taker {
 public:
  Taker(std::string_view text, char separator, int& line) : text_(text), separator_(separator), line_(line) {
    record_.line = line;
  }

  Record run() {
    for (bool more = true; more;) more = cell();
    record_.raw = text_.substr(0, at_);
    const auto length = break_length(text_.substr(at_));
    at_ += length;
    if (length > 0) ++line_;
    return std::move(record_);
  }
  [[nodiscard]] std::size_t used() const { return at_; }

 private:
  /// True if another cell follows.
  bool cell() {
    std::size_t probe = at_;
    while (probe < text_.size() && text_[probe] == ' ' && separator_ != ' ') ++probe;
    std::string value;
    if (probe < text_.size() && text_[probe] == '"') {
      at_ = probe + 1;
      value = quoted();
      plain();  // only blanks may follow
    } else {
      const auto from = at_;
      plain();
      value = trim(text_.substr(from, at_ - from));
    }
    record_.cells.push_back(std::move(value));
    if (at_ >= text_.size() || text_[at_] != separator_) return false;
    ++at_;
    return true;
  }

  std::string quoted() {
    std::string value;
    for (; at_ < text_.size(); ++at_) {
      if (text_[at_] == '"') {
        if (at_ + 1 >= text_.size() || text_[at_ + 1] != '"') {
          ++at_;
          after_quote_ = true;
          return value;
        }
        ++at_;
      } else if (text_[at_] == '\n' || (text_[at_] == '\r' && (at_ + 1 >= text_.size() || text_[at_ + 1] != '\n'))) {
        ++line_;
      }
      value += text_[at_];
    }
    record_.problem = "a quote is opened and never closed";
    return value;
  }

  void plain() {
    for (; at_ < text_.size() && text_[at_] != separator_ && break_length(text_.substr(at_)) == 0; ++at_)
      if (after_quote_ && text_[at_] != ' ' && record_.problem.empty())
        record_.problem = "text follows a closing quote";
    after_quote_ = false;
  }

  std::string_view text_;
  char separator_;
  int& line_;
  std::size_t at_ = 0;
  bool after_quote_ = false;
  Record record_;
};

}  // namespace

Record take_record(std::string_view& text, char separator, int& line) {
  Taker taker(text, separator, line);
  auto record = taker.run();
  text.remove_prefix(taker.used());
  return record;
}

}  // namespace provenit::instrument
