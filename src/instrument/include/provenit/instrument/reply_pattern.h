#pragma once
// Patterns for the replies of line instruments, and the matching of bytes against them. Pure: no port, no clock.
//
// A pattern is one or more line patterns. In a line pattern
//   literal text       matches itself; case counts
//   a blank            matches one or more blanks or tabs; those at the ends of a line never count
//   {field}            a field; {field:unit} with its unit. docs/instruments.md lists fields and units
//   {field...:unit}    a list of numbers on one line (wavelength and radiance only)
//   {{ and }}          a brace
// A number field takes blanks and then the longest decimal number ("-1.5", "+1.0E+02", ".5"). A text field ({name},
// {message}, {text} ...) takes everything up to what follows it in the pattern, or to the end of the line. A list takes
// numbers parted by a comma, a semicolon or blanks.
// A line may be repeated, a fixed number of times or as often as an earlier {count} says: its numbers then make lists.
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::instrument {

/// One line of a reply.
struct LinePattern {
  std::string text;
  int repeat = 1;                ///< 1 to 10000
  bool repeat_by_count = false;  ///< as often as {count} of an earlier line says
};

/// What came, by field name. Numbers are in the field's base unit (cd/m2, 1, s, nm, W/(sr m2 nm)).
struct ReplyFields {
  std::map<std::string, std::vector<double>> numbers;
  std::map<std::string, std::string> texts;
};

enum class ReplyState { good, bad, more };

/// good: the bytes begin with a whole reply, `consumed` bytes long. bad: no further byte can make it good; `consumed`
/// covers the lines up to and with the bad one. more: a good reply may still come.
struct ReplyMatch {
  ReplyState state = ReplyState::more;
  std::size_t consumed = 0;
  std::size_t line_begin = 0;  ///< bad: where the bad line begins
  ReplyFields fields;
  std::string why;  ///< bad: "line 2, place 5: a number was expected, 'abc' came"
};

struct ReplyLimits {
  std::string ending = "\n";       ///< what ends a line: "\n", "\r" or "\r\n"; with "\n" a "\r" before it is dropped
  std::size_t line_bytes = 65536;  ///< a longer line is bad
  bool decimal_comma = false;      ///< numbers are written 1,5: list items are then parted by ; or blanks
};

class ReplyPattern {
 public:
  /// Errors: invalid_input saying what is wrong and where (unknown field or unit, open brace, two fields without a
  /// literal between them, {count} missing).
  [[nodiscard]] static Result<ReplyPattern> compile(std::vector<LinePattern> lines);
  [[nodiscard]] static Result<ReplyPattern> compile(std::string_view one_line);

  /// Matches the beginning of `bytes`.
  [[nodiscard]] ReplyMatch match(std::string_view bytes, const ReplyLimits& limits) const;
  /// Names of the fields it fills.
  [[nodiscard]] bool has(std::string_view field) const;

 private:
  struct Compiled;
  std::shared_ptr<const Compiled> compiled_;
};

}  // namespace provenit::instrument
