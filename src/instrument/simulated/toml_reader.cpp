#include <fmt/format.h>

#include <cmath>

#include "toml_reader_internal.h"

namespace provenit::simulated {
namespace {

const toml::table& empty_table() {
  static const toml::table none;
  return none;
}

}  // namespace

void TomlErrors::add(ErrorCode code, const toml::source_region& at, const std::string& key, std::string message,
                     std::string advice) {
  if (first) return;
  first = Error{code,
                std::move(message),
                std::move(advice),
                {.file = file, .line = static_cast<int>(at.begin.line), .field = key}};
}

const toml::node* TomlReader::known(const char* key) {
  known_.insert(key);
  return table_->get(key);
}

const toml::node* TomlReader::required(const char* key, const char* what) {
  const auto* node = known(key);
  if (node == nullptr)
    errors_->add(ErrorCode::invalid_input, table_->source(), full(key), "the key is not there",
                 fmt::format("Give {} = {} in this table.", key, what));
  return node;
}

double TomlReader::checked(const toml::node& node, const std::string& key, Limits limits) {
  const auto value = node.value<double>();
  if (!node.is_number() || !value || !std::isfinite(*value)) {
    errors_->add(ErrorCode::invalid_input, node.source(), key, "not a number", "Give a finite number.");
    return 1;
  }
  if (*value < limits.lowest || *value > limits.highest) {
    errors_->add(ErrorCode::out_of_range, node.source(), key, fmt::format("{} is outside the range", *value),
                 limits.lowest == kPositive.lowest
                     ? "Give a number above 0."
                     : fmt::format("Give a number from {} to {}.", limits.lowest, limits.highest));
    return 1;
  }
  return *value;
}

std::string TomlReader::text(const char* key) {
  const auto* node = required(key, "\"text\"");
  if (node == nullptr) return {};
  const auto value = node->value<std::string>();
  if (!value || value->empty()) {
    errors_->add(ErrorCode::invalid_input, node->source(), full(key), "not a text", "Give it in quotation marks.");
    return {};
  }
  return *value;
}

double TomlReader::number(const char* key, Limits limits) {
  const auto* node = required(key, "a number");
  return node == nullptr ? 1 : checked(*node, full(key), limits);
}

double TomlReader::number(const char* key, Limits limits, double otherwise) {
  const auto* node = known(key);
  return node == nullptr ? otherwise : checked(*node, full(key), limits);
}

int TomlReader::integer(const char* key, Limits limits, int otherwise) {
  const auto* node = known(key);
  if (node == nullptr) return otherwise;
  if (!node->is_integer()) {
    errors_->add(ErrorCode::invalid_input, node->source(), full(key), "not a whole number", "Give a whole number.");
    return otherwise;
  }
  return static_cast<int>(checked(*node, full(key), limits));
}

std::vector<double> TomlReader::list(const char* key, Limits limits, std::size_t size) {
  const auto* node = required(key, "[numbers]");
  if (node == nullptr) return {};
  const auto* array = node->as_array();
  if (array == nullptr || array->size() != size) {
    errors_->add(ErrorCode::invalid_input, node->source(), full(key), fmt::format("not a list of {} numbers", size),
                 fmt::format("Give {} = [{} numbers].", key, size));
    return {};
  }
  std::vector<double> out;
  for (const auto& element : *array) out.push_back(checked(element, full(key), limits));
  return out;
}

TomlReader TomlReader::table(const char* key) {
  const auto* node = required(key, "{ ... }");
  const auto* table = node == nullptr ? nullptr : node->as_table();
  if (node != nullptr && table == nullptr)
    errors_->add(ErrorCode::invalid_input, node->source(), full(key), "not a table",
                 fmt::format("Write [{}] and its keys below it.", full(key)));
  return {table == nullptr ? empty_table() : *table, full(key), *errors_};
}

std::vector<TomlReader> TomlReader::tables(const char* key) {
  std::vector<TomlReader> out;
  const auto* node = known(key);
  if (node == nullptr) return out;
  const auto* array = node->as_array();
  if (array == nullptr || !array->is_homogeneous(toml::node_type::table)) {
    errors_->add(ErrorCode::invalid_input, node->source(), full(key), "not a list of tables",
                 fmt::format("Give {} = [ {{ ... }}, ... ].", key));
    return out;
  }
  for (const auto& element : *array) out.emplace_back(*element.as_table(), full(key), *errors_);
  return out;
}

void TomlReader::refuse(const char* key, std::string message, std::string advice) {
  const auto* node = table_->get(key);
  errors_->add(ErrorCode::out_of_range, (node == nullptr ? table_->source() : node->source()), full(key),
               std::move(message), std::move(advice));
}

void TomlReader::finish() {
  for (const auto& [key, node] : *table_)
    if (!known_.contains(key.str()))
      errors_->add(ErrorCode::invalid_input, key.source(), full(std::string(key.str())), "unknown key",
                   "Take it out, or correct its name; docs/simulator.md lists the keys.");
}

}  // namespace provenit::simulated
