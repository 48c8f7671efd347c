#include "fields.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

namespace provenit::server {
namespace {

constexpr int kDeepest = 32;

/// Before the parser sees it: brackets inside texts count too, which no request comes near.
bool is_shallow(std::string_view body) {
  int depth = 0;
  for (const char c : body) {
    if (c == '[' || c == '{') ++depth;
    if (c == ']' || c == '}') --depth;
    if (depth > kDeepest) return false;
  }
  return true;
}

}  // namespace

Result<nlohmann::json> parse_body(std::string_view body) {
  if (body.empty()) return nlohmann::json::object();
  auto out = is_shallow(body) ? nlohmann::json::parse(body, nullptr, false)
                              : nlohmann::json(nlohmann::json::value_t::discarded);
  if (out.is_discarded())
    return fail(ErrorCode::invalid_input, "the request's body is no JSON", "Send one JSON object, UTF-8.",
                {.field = "body"});
  return out;
}

Fields::Fields(const nlohmann::json& body, std::initializer_list<std::string_view> known, std::string place)
    : body_(body), place_(std::move(place)) {
  if (!body_.is_object()) {
    error_ = Error{ErrorCode::invalid_input, "an object is needed here", "Send {...}.", {.field = place_ + "body"}};
    body_ = nlohmann::json::object();
    return;
  }
  for (const auto& [key, value] : body_.items())
    if (std::ranges::find(known, std::string_view(key)) == known.end())
      refuse(key.substr(0, 100), "this key is not known here", fmt::format("Known: {}.", fmt::join(known, ", ")));
}

void Fields::note(const std::optional<Error>& error) {
  if (!error_) error_ = error;
}

void Fields::refuse(std::string_view key, std::string message, std::string advice) {
  if (!error_)
    error_ =
        Error{ErrorCode::invalid_input, std::move(message), std::move(advice), {.field = place_ + std::string(key)}};
}

const nlohmann::json* Fields::find(std::string_view key) const {
  const auto found = body_.find(std::string(key));
  return found == body_.end() || found->is_null() ? nullptr : &*found;
}

bool Fields::has(std::string_view key) const {
  return find(key) != nullptr;
}

std::optional<std::string> Fields::text(std::string_view key, std::size_t longest) {
  const auto* value = find(key);
  if (value == nullptr) return std::nullopt;
  if (!value->is_string()) {
    refuse(key, "a text is needed here");
    return std::nullopt;
  }
  auto out = value->get<std::string>();
  if (out.size() > longest || out.find('\0') != std::string::npos) {
    refuse(key, fmt::format("is longer than {} bytes, or holds a zero byte", longest));
    return std::nullopt;
  }
  return out;
}

std::string Fields::needed_text(std::string_view key, std::size_t longest) {
  auto out = text(key, longest).value_or("");
  if (out.find_first_not_of(" \t\r\n") == std::string::npos) refuse(key, "is missing", "Give it.");
  return out;
}

std::optional<std::string> Fields::choice(std::string_view key, std::initializer_list<std::string_view> choices) {
  auto out = text(key, 100);
  if (out && std::ranges::find(choices, std::string_view(*out)) == choices.end()) {
    refuse(key, fmt::format("'{}' is not known", *out), fmt::format("Give one of {}.", fmt::join(choices, ", ")));
    return std::nullopt;
  }
  return out;
}

std::string Fields::needed_choice(std::string_view key, std::initializer_list<std::string_view> choices) {
  const auto out = choice(key, choices);
  if (!out) refuse(key, "is missing", fmt::format("Give one of {}.", fmt::join(choices, ", ")));
  return out.value_or("");
}

std::optional<bool> Fields::flag(std::string_view key) {
  const auto* value = find(key);
  if (value == nullptr) return std::nullopt;
  if (!value->is_boolean()) {
    refuse(key, "true or false is needed here");
    return std::nullopt;
  }
  return value->get<bool>();
}

std::optional<std::int64_t> Fields::integer(std::string_view key, std::int64_t least, std::int64_t most) {
  const auto* value = find(key);
  if (value == nullptr) return std::nullopt;
  const bool too_large =
      value->is_number_unsigned() && value->get<std::uint64_t>() > static_cast<std::uint64_t>(INT64_MAX);
  if (!value->is_number_integer() || too_large || value->get<std::int64_t>() < least ||
      value->get<std::int64_t>() > most) {
    refuse(key, fmt::format("a whole number from {} to {} is needed here", least, most));
    return std::nullopt;
  }
  return value->get<std::int64_t>();
}

std::int64_t Fields::needed_integer(std::string_view key, std::int64_t least, std::int64_t most) {
  if (!has(key)) refuse(key, "is missing", "Give its number.");
  return integer(key, least, most).value_or(least);
}

std::optional<double> Fields::number(std::string_view key, double least, double most, bool above) {
  const auto* value = find(key);
  if (value == nullptr) return std::nullopt;
  const double out = value->is_number() ? value->get<double>() : std::nan("");
  if (!(out >= least && out <= most) || (above && out == least)) {
    refuse(key, most == std::numeric_limits<double>::max()
                    ? fmt::format("a number {} {} is needed here", above ? "above" : "not below", least)
                    : fmt::format("a number {} {} and up to {} is needed here", above ? "above" : "from", least, most));
    return std::nullopt;
  }
  return out;
}

std::vector<std::string> Fields::texts(std::string_view key, std::size_t most, std::size_t longest) {
  const auto* value = find(key);
  if (value == nullptr) return {};
  std::vector<std::string> out;
  bool right = value->is_array() && value->size() <= most;
  if (right)
    for (const auto& item : *value) {
      right = right && item.is_string() && item.get_ref<const std::string&>().size() <= longest;
      if (right) out.push_back(item.get<std::string>());
    }
  if (!right) refuse(key, fmt::format("a list of up to {} texts is needed here", most));
  return out;
}

nlohmann::json Fields::object(std::string_view key) {
  const auto* value = find(key);
  if (value == nullptr) return nlohmann::json::object();
  if (!value->is_object()) {
    refuse(key, "an object is needed here");
    return nlohmann::json::object();
  }
  return *value;
}

}  // namespace provenit::server
