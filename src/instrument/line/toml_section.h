#pragma once
// One table of a TOML file, read key by key: types and ranges are checked, and a key that nobody asked for is an error,
// so that a misspelt one is never passed over. The first error is kept; later reads then do nothing. Private.
#include <toml++/toml.h>

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"

namespace provenit::instrument {

/// Shared by all sections of one file.
struct TomlErrors {
  std::string file;
  std::optional<Error> first;
  void add(ErrorCode code, std::string message, std::string advice, const toml::node* at, std::string field);
};

class TomlSection {
 public:
  /// `table` may be null: every key then keeps its default. `path` is "" for the root, "transport" ...
  TomlSection(const toml::table* table, std::string path, TomlErrors& errors);

  [[nodiscard]] bool has(std::string_view key) const;
  void text(std::string_view key, std::string& out);
  void boolean(std::string_view key, bool& out);
  void number(std::string_view key, double lowest, double highest, double& out);
  void seconds(std::string_view key, double highest, Seconds& out);
  void integer(std::string_view key, int lowest, int highest, int& out);
  /// One of `words`; `out` becomes its index.
  void word(std::string_view key, const std::vector<std::string_view>& words, int& out);
  /// The node itself, marked as read; null if it is not there.
  const toml::node* node(std::string_view key);
  /// A sub-table, absent if it is not there.
  TomlSection section(std::string_view key);
  /// The tables of an array of tables; empty if it is not there.
  std::vector<TomlSection> sections(std::string_view key);
  /// An error of this section.
  void refuse(std::string message, std::string advice, const toml::node* at, std::string_view key);
  /// Refuses keys that were not read.
  void finish();
  [[nodiscard]] const toml::table* table() const { return table_; }

 private:
  [[nodiscard]] std::string name_of(std::string_view key) const;
  const toml::table* table_;
  std::string path_;
  TomlErrors& errors_;
  std::set<std::string, std::less<>> read_;
};

}  // namespace provenit::instrument
