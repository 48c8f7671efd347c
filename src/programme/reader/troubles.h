#pragma once
// Lines of what went wrong, repeated kinds counted.
#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace provenit::programme {

class Troubles {
 public:
  /// `place` is where it happened, e.g. "at 1.250 s"; kinds are told in the order in which they first came.
  void add(const std::string& kind, const std::string& place);
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }
  [[nodiscard]] bool any() const { return !lines_.empty(); }

 private:
  struct Kind {
    std::size_t line = 0;
    std::string first, last;
    std::int64_t count = 0;
  };
  std::map<std::string, Kind> kinds_;
  std::vector<std::string> lines_;
};

/// A library's message as a kind: one line, printable, with its numbers and addresses taken out.
[[nodiscard]] std::string kind_of_message(const std::string& message);

}  // namespace provenit::programme
