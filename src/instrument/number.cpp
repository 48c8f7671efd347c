#include "number.h"

#include <algorithm>
#include <string>

#include "provenit/base/text.h"

namespace provenit::instrument {
namespace {

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

std::size_t digits_at(std::string_view text, std::size_t at) {
  std::size_t end = at;
  while (end < text.size() && is_digit(text[end])) ++end;
  return end - at;
}

/// Length of the number at the front, 0 if there is none.
std::size_t number_length(std::string_view text, char mark) {
  std::size_t at = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0;
  const auto whole = digits_at(text, at);
  at += whole;
  std::size_t fraction = 0;
  if (at < text.size() && text[at] == mark) {
    fraction = digits_at(text, at + 1);
    // "1." is a number; "1," is one followed by a comma, which may be a separator.
    if (fraction > 0 || (whole > 0 && mark == '.')) at += 1 + fraction;
  }
  if (whole + fraction == 0) return 0;
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    const std::size_t sign = at + 1 < text.size() && (text[at + 1] == '+' || text[at + 1] == '-') ? 1 : 0;
    const auto exponent = digits_at(text, at + 1 + sign);
    if (exponent > 0) at += 1 + sign + exponent;
  }
  return at;
}

}  // namespace

std::optional<double> take_number(std::string_view& text, bool decimal_comma) {
  const auto length = number_length(text, decimal_comma ? ',' : '.');
  if (length == 0) return std::nullopt;
  std::string number(text.substr(0, length));
  std::ranges::replace(number, ',', '.');
  const auto value = parse_double(number);
  if (value) text.remove_prefix(length);
  return value;
}

std::optional<NumberCell> parse_cell(std::string_view text) {
  text = trim(text);
  const bool comma = text.find(',') != std::string_view::npos;
  const bool point = text.find('.') != std::string_view::npos;
  const auto value = take_number(text, comma);
  if (!value || !text.empty()) return std::nullopt;
  return NumberCell{*value, comma ? DecimalMark::comma : point ? DecimalMark::point : DecimalMark::none};
}

}  // namespace provenit::instrument
