#include "line/toml_section.h"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {

void TomlErrors::add(ErrorCode code, std::string message, std::string advice, const toml::node* at, std::string field) {
  if (first) return;
  const int line = at ? static_cast<int>(at->source().begin.line) : -1;
  first = Error{code, std::move(message), std::move(advice), {.file = file, .line = line, .field = std::move(field)}};
}

TomlSection::TomlSection(const toml::table* table, std::string path, TomlErrors& errors)
    : table_(table), path_(std::move(path)), errors_(errors) {}

std::string TomlSection::name_of(std::string_view key) const {
  return path_.empty() ? escaped(key) : path_ + "." + escaped(key);
}

bool TomlSection::has(std::string_view key) const {
  return table_ && table_->contains(key);
}

const toml::node* TomlSection::node(std::string_view key) {
  if (!table_) return nullptr;
  read_.emplace(key);
  return table_->get(key);
}

void TomlSection::refuse(std::string message, std::string advice, const toml::node* at, std::string_view key) {
  errors_.add(ErrorCode::invalid_input, std::move(message), std::move(advice), at ? at : table_, name_of(key));
}

void TomlSection::text(std::string_view key, std::string& out) {
  const auto* n = node(key);
  if (!n) return;
  if (const auto value = n->value_exact<std::string>())
    out = *value;
  else
    refuse("is not text", "Write it in quotes.", n, key);
}

void TomlSection::boolean(std::string_view key, bool& out) {
  const auto* n = node(key);
  if (!n) return;
  if (const auto value = n->value_exact<bool>())
    out = *value;
  else
    refuse("is not true or false", {}, n, key);
}

void TomlSection::number(std::string_view key, double lowest, double highest, double& out) {
  const auto* n = node(key);
  if (!n) return;
  const auto value = n->is_number() ? n->value<double>() : std::nullopt;
  if (!value) return refuse("is not a number", "Write it without quotes.", n, key);
  if (!(*value >= lowest && *value <= highest))
    return errors_.add(ErrorCode::out_of_range, fmt::format("{} lies outside {} to {}", *value, lowest, highest), {}, n,
                       name_of(key));
  out = *value;
}

void TomlSection::seconds(std::string_view key, double highest, Seconds& out) {
  number(key, 0, highest, out.s);
}

void TomlSection::integer(std::string_view key, int lowest, int highest, int& out) {
  const auto* n = node(key);
  if (!n) return;
  const auto value = n->value_exact<std::int64_t>();
  if (!value) return refuse("is not a whole number", "Write it without quotes.", n, key);
  if (*value < lowest || *value > highest)
    return errors_.add(ErrorCode::out_of_range, fmt::format("{} lies outside {} to {}", *value, lowest, highest), {}, n,
                       name_of(key));
  out = static_cast<int>(*value);
}

void TomlSection::word(std::string_view key, const std::vector<std::string_view>& words, int& out) {
  const auto* n = node(key);
  if (!n) return;
  const auto value = n->value_exact<std::string>();
  std::string known;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (value && *value == words[i]) {
      out = static_cast<int>(i);
      return;
    }
    known += (i ? ", " : "") + std::string(words[i]);
  }
  refuse(value ? fmt::format("'{}' is not known here", escaped(*value)) : "is not text",
         fmt::format("Write one of: {}.", known), n, key);
}

TomlSection TomlSection::section(std::string_view key) {
  const auto* n = node(key);
  if (n && !n->is_table()) refuse("is not a table", fmt::format("Begin it with [{}].", name_of(key)), n, key);
  return {n ? n->as_table() : nullptr, name_of(key), errors_};
}

std::vector<TomlSection> TomlSection::sections(std::string_view key) {
  std::vector<TomlSection> out;
  const auto* n = node(key);
  if (!n) return out;
  const auto* array = n->as_array();
  for (std::size_t i = 0; array && i < array->size(); ++i) {
    const auto* table = array->get(i)->as_table();
    if (!table) break;
    out.emplace_back(table, fmt::format("{}[{}]", name_of(key), i), errors_);
  }
  if (!array || out.size() != array->size())
    refuse("is not a list of tables", fmt::format("Begin each with [[{}]].", name_of(key)), n, key);
  return out;
}

void TomlSection::finish() {
  if (!table_) return;
  for (const auto& [key, value] : *table_)
    if (!read_.contains(key.str()))
      refuse("is not a key of an instrument description", "Check its spelling; docs/instruments.md lists the keys.",
             &value, key.str());
}

}  // namespace provenit::instrument
