#pragma once
// Delimited text by RFC 4180, with any separator. Private to the library.
#include <string>
#include <string_view>
#include <vector>

namespace provenit::instrument {

struct Record {
  int line = 0;  ///< of its first character
  std::vector<std::string> cells;
  std::string raw;      ///< without its line break
  std::string problem;  ///< not empty: what is wrong with its quotes
};

/// Takes one record from the front of `text`; `line` is that of its beginning and is moved on. A quoted cell may hold
/// separators, doubled quotes and line breaks. LF, CRLF and CR end a record.
[[nodiscard]] Record take_record(std::string_view& text, char separator, int& line);

}  // namespace provenit::instrument
