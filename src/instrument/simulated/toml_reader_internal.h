#pragma once
// Reads a table key by key, and remembers the first thing that is wrong with file, line and key. Every reader gives a
// harmless value after an error, so that the callers read straight on and ask once, at the end.
#include <toml++/toml.h>

#include <array>
#include <limits>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::simulated {

struct Limits {
  double lowest = -std::numeric_limits<double>::infinity();
  double highest = std::numeric_limits<double>::infinity();
};
inline constexpr Limits kPositive{.lowest = std::numeric_limits<double>::min()};
inline constexpr Limits kNotNegative{.lowest = 0};
inline constexpr Limits kShare{.lowest = 0, .highest = 1};

/// The first error of a file.
struct TomlErrors {
  std::string file;
  std::optional<Error> first;
  void add(ErrorCode code, const toml::source_region& at, const std::string& key, std::string message,
           std::string advice);
};

class TomlReader {
 public:
  TomlReader(const toml::table& table, std::string path, TomlErrors& errors)
      : table_(&table), path_(std::move(path)), errors_(&errors) {}

  [[nodiscard]] bool has(const char* key) const { return table_->contains(key); }
  [[nodiscard]] int line() const { return static_cast<int>(table_->source().begin.line); }
  [[nodiscard]] std::string text(const char* key);
  [[nodiscard]] double number(const char* key, Limits limits);  ///< required
  [[nodiscard]] double number(const char* key, Limits limits, double otherwise);
  [[nodiscard]] int integer(const char* key, Limits limits, int otherwise);
  /// Exactly N numbers; required unless `otherwise` is given.
  template <std::size_t N>
  [[nodiscard]] std::array<double, N> numbers(const char* key, Limits limits,
                                              std::optional<std::array<double, N>> otherwise = {}) {
    std::array<double, N> out{};
    if (otherwise && !has(key)) return *otherwise;
    const std::vector<double> all = list(key, limits, N);
    if (all.size() == N) std::copy(all.begin(), all.end(), out.begin());
    return out;
  }
  /// Required; an empty table after an error.
  [[nodiscard]] TomlReader table(const char* key);
  /// Array of tables; empty if it is not there.
  [[nodiscard]] std::vector<TomlReader> tables(const char* key);
  void refuse(const char* key, std::string message, std::string advice);
  /// Any key that nobody has asked for is an error.
  void finish();

 private:
  [[nodiscard]] const toml::node* required(const char* key, const char* what);
  [[nodiscard]] const toml::node* known(const char* key);
  [[nodiscard]] double checked(const toml::node& node, const std::string& key, Limits limits);
  [[nodiscard]] std::vector<double> list(const char* key, Limits limits, std::size_t size);
  [[nodiscard]] std::string full(const std::string& key) const { return path_.empty() ? key : path_ + "." + key; }

  const toml::table* table_;
  std::string path_;
  TomlErrors* errors_;
  std::set<std::string, std::less<>> known_;
};

}  // namespace provenit::simulated
