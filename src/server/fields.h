#pragma once
// The keys of a request's body, each taken once and checked. The first thing wrong is kept; everything after it reads
// as its default.
#include <cstdint>
#include <initializer_list>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::server {

// Above what any bench or film has: what lies beyond is a slip of whoever asks.
inline constexpr std::int64_t kMostId = 1'000'000'000'000, kMostFrames = 1'000'000'000'000;
inline constexpr double kMostHours = 100'000;

class Fields {
 public:
  /// `place` stands before a field's name in errors: "certificate.". Errors: anything but an object; a key not known.
  Fields(const nlohmann::json& body, std::initializer_list<std::string_view> known, std::string place = {});

  [[nodiscard]] const std::optional<Error>& error() const { return error_; }
  /// Keeps an error found elsewhere, e.g. in a child.
  void note(const std::optional<Error>& error);
  void refuse(std::string_view key, std::string message, std::string advice = {});

  [[nodiscard]] bool has(std::string_view key) const;  ///< it is there, and not null
  /// The first three refuse what is missing; the others give nothing for it.
  [[nodiscard]] std::string needed_text(std::string_view key, std::size_t longest = 200);
  [[nodiscard]] std::int64_t needed_integer(std::string_view key, std::int64_t least, std::int64_t most);
  [[nodiscard]] std::string needed_choice(std::string_view key, std::initializer_list<std::string_view> choices);
  [[nodiscard]] std::optional<std::string> text(std::string_view key, std::size_t longest);
  [[nodiscard]] std::optional<std::string> choice(std::string_view key,
                                                  std::initializer_list<std::string_view> choices);
  [[nodiscard]] std::optional<bool> flag(std::string_view key);
  [[nodiscard]] std::optional<std::int64_t> integer(std::string_view key, std::int64_t least, std::int64_t most);
  /// `above`: the value itself is not allowed.
  [[nodiscard]] std::optional<double> number(std::string_view key, double least,
                                             double most = std::numeric_limits<double>::max(), bool above = false);
  [[nodiscard]] std::vector<std::string> texts(std::string_view key, std::size_t most, std::size_t longest);
  /// The value of a key that holds an object; an empty object if it is not there.
  [[nodiscard]] nlohmann::json object(std::string_view key);

 private:
  const nlohmann::json* find(std::string_view key) const;

  nlohmann::json body_;
  std::string place_;
  std::optional<Error> error_;
};

/// A request's body. An empty one is an empty object. Errors: invalid_input for what is no JSON, not UTF-8, or nested
/// deeper than a request needs.
[[nodiscard]] Result<nlohmann::json> parse_body(std::string_view body);

}  // namespace provenit::server
