#include "reader.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "provenit/base/text.h"

namespace provenit::selfcheck {

std::optional<double> parse_number(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == std::string_view::npos) return parse_double(text);
  const auto above = parse_double(text.substr(0, slash)), below = parse_double(text.substr(slash + 1));
  if (!above || !below || *below == 0) return std::nullopt;
  return *above / *below;
}

std::optional<Values> parse_numbers(std::string_view text) {
  Values out;
  for (const auto word : split(text, ' ')) {
    if (trim(word).empty()) continue;
    const auto value = parse_number(word);
    if (!value) return std::nullopt;
    out.push_back(*value);
  }
  if (out.empty()) return std::nullopt;
  return out;
}

void Reader::fail(std::string_view key, std::string message, std::string advice) {
  if (!error_)
    error_ = Error{ErrorCode::invalid_input, std::move(message), std::move(advice), {.field = std::string(key)}};
}

void Reader::fail(std::string_view key, const Error& error) {
  if (error_) return;
  error_ = error;
  error_->where.field = key;
}

std::optional<Error> Reader::error() const {
  if (error_) return error_;
  for (const auto& [key, value] : inputs_.values)
    if (std::find(used_.begin(), used_.end(), key) == used_.end())
      return Error{ErrorCode::invalid_input,
                   fmt::format("this quantity has no input '{}'", key),
                   "Check the spelling, or leave it out.",
                   {.field = key}};
  for (std::size_t i = 0; i < note_used_.size(); ++i)
    if (!note_used_[i])
      return Error{ErrorCode::invalid_input,
                   fmt::format("'{}' has no '=' and is no note of this quantity", inputs_.notes[i]),
                   "Write key=value, parted by ';'.",
                   {.field = "inputs"}};
  return std::nullopt;
}

bool Reader::has(std::string_view key) const {
  return std::any_of(inputs_.values.begin(), inputs_.values.end(), [key](const auto& v) { return v.first == key; });
}

const std::string* Reader::find(std::string_view key) {
  for (const auto& [name, value] : inputs_.values)
    if (name == key) {
      used_.emplace_back(key);
      return &value;
    }
  fail(key, fmt::format("the input '{}' is missing", key), fmt::format("Add {}=...", key));
  return nullptr;
}

Values Reader::numbers(std::string_view key) {
  const auto* value = find(key);
  if (value == nullptr) return {};
  const auto parsed = parse_numbers(*value);
  if (!parsed) fail(key, fmt::format("'{}' is not a list of numbers", *value), "Give numbers parted by blanks.");
  return parsed.value_or(Values{});
}

Values Reader::exactly(std::string_view key, std::size_t count) {
  auto values = numbers(key);
  if (!values.empty() && values.size() != count)
    fail(key, fmt::format("{} numbers where {} are needed", values.size(), count),
         fmt::format("Give {} numbers.", count));
  return values;
}

double Reader::number(std::string_view key) {
  return vector<1>(key)[0];
}

double Reader::number_or(std::string_view key, double fallback) {
  return has(key) ? number(key) : fallback;
}

double Reader::positive(std::string_view key) {
  const double value = number(key);
  if (value > 0) return value;
  fail(key, fmt::format("{} is not above 0", value), "Give a number above 0.");
  return 1;
}

double Reader::not_negative(std::string_view key) {
  const double value = number(key);
  if (value >= 0) return value;
  fail(key, fmt::format("{} is below 0", value), "Give 0 or more.");
  return 0;
}

int Reader::integer(std::string_view key, int lowest, int highest) {
  const double value = number(key);
  if (value == std::floor(value) && value >= lowest && value <= highest) return static_cast<int>(value);
  fail(key, fmt::format("{} is not a whole number from {} to {}", value, lowest, highest), "Give one that is.");
  return lowest;
}

std::string_view Reader::text(std::string_view key) {
  const auto* value = find(key);
  return value == nullptr ? std::string_view{} : std::string_view(*value);
}

std::size_t Reader::choice(std::string_view key, std::span<const std::string_view> choices) {
  const auto* value = find(key);
  if (value == nullptr) return 0;
  const auto found = std::find(choices.begin(), choices.end(), *value);
  if (found != choices.end()) return static_cast<std::size_t>(found - choices.begin());
  fail(key, fmt::format("'{}' is not known here", *value), fmt::format("Known: {}.", fmt::join(choices, ", ")));
  return 0;
}

int Reader::bits() {
  return integer("bits", 8, 16);
}

colour::Range Reader::range() {
  static constexpr std::array<std::string_view, 2> names{"narrow", "full"};
  return choice("range", names) == 0 ? colour::Range::narrow : colour::Range::full;
}

int Reader::code(double value, int bits, std::string_view key) {
  const int highest = (1 << bits) - 1;
  if (value == std::floor(value) && value >= 0 && value <= highest) return static_cast<int>(value);
  fail(key, fmt::format("{} is no code of {} bits", value, bits),
       fmt::format("Give a whole number from 0 to {}.", highest));
  return 0;
}

colour::Xy<> Reader::xy(std::string_view key) {
  const auto v = vector<2>(key);
  if (v[1] > 0) return {.x = v[0], .y = v[1]};
  fail(key, fmt::format("a chromaticity cannot have y = {}", v[1]), "Give x and y, with y above 0.");
  return colour::d65_video;
}

bool Reader::note(std::string_view wanted) {
  for (std::size_t i = 0; i < inputs_.notes.size(); ++i)
    if (inputs_.notes[i] == wanted) {
      note_used_[i] = true;
      return true;
    }
  return false;
}

bool Reader::row_major() {
  static constexpr std::array<std::string_view, 2> names{"row major", "column major"};
  return !has("order") || choice("order", names) == 0;
}

}  // namespace provenit::selfcheck
