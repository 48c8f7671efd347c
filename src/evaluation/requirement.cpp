#include "provenit/evaluation/requirement.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "evaluation_assets.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

constexpr std::array kSetKeys{"id", "title", "source", "mark", "note", "invented", "extends", "question"};
constexpr std::array kQuestionKeys{"key",    "text", "quantity", "conditions", "at_least", "at_most",
                                   "within", "unit", "clause",   "source",     "mark",     "weight"};
constexpr std::array kMarks{store::SourceMark::seen,       store::SourceMark::second_hand,
                            store::SourceMark::calculated, store::SourceMark::common_practice,
                            store::SourceMark::claim,      store::SourceMark::from_memory,
                            store::SourceMark::unset};

/// Conditions whose value is one of a few words; all other conditions are numbers above 0.
struct ConditionWords {
  std::string_view key;
  std::vector<std::string_view> words;
};
const std::array kConditionWords{
    ConditionWords{"reference", {"bt709", "p3_d65", "bt2020"}},
    ConditionWords{"plane", {"uv", "xy"}},
    ConditionWords{"primary", {"red", "green", "blue"}},
    ConditionWords{"direction", {"left", "right", "above", "below", "across", "down"}},
    ConditionWords{"local_dimming", {"as_found", "on", "off"}},
    ConditionWords{"space", {"ictcp", "cielab"}},
    ConditionWords{"band", {"low", "high"}},
    ConditionWords{"colour", {"red", "yellow", "green", "cyan", "blue", "magenta", "skin", "orange", "mint", "violet"}},
    ConditionWords{"observer", {"cie1931_2deg", "cie1964_10deg", "cie2015_2deg", "cie2015_10deg"}},
    ConditionWords{"axis", {"columns", "rows"}},
    ConditionWords{"lines", {"upright", "lying"}}};

/// One table of the file, with what is needed to say where an error is.
class Table {
 public:
  Table(const toml::table& table, const std::string& file, std::string key)
      : table_(table), file_(file), key_(std::move(key)) {}

  [[nodiscard]] tl::unexpected<Error> refuse(const std::string& field, std::string message, std::string advice) const {
    const toml::node* node = table_.get(field);
    const auto& source = node ? node->source() : table_.source();
    return fail(ErrorCode::invalid_input, std::move(message), std::move(advice),
                {.file = file_,
                 .line = static_cast<int>(source.begin.line),
                 .field = key_.empty() ? field : fmt::format("{}: {}", key_, field)});
  }

  template <std::size_t N>
  Result<void> only(const std::array<const char*, N>& known) const {
    for (const auto& [key, node] : table_)
      if (std::ranges::find(known, key.str()) == known.end())
        return refuse(std::string(key.str()), fmt::format("'{}' is no key here", key.str()),
                      fmt::format("Known keys are {}.", fmt::join(known, ", ")));
    return {};
  }

  [[nodiscard]] bool has(const char* field) const { return table_.contains(field); }
  [[nodiscard]] const toml::node* get(const char* field) const { return table_.get(field); }

  Result<std::string> text(const char* field, std::string otherwise) const {
    const auto* node = table_.get(field);
    if (!node) return otherwise;
    if (auto value = node->value_exact<std::string>()) return *value;
    return refuse(field, fmt::format("'{}' is no text", field), "Put it between quotes.");
  }

  Result<std::optional<double>> number(const char* field) const {
    const auto* node = table_.get(field);
    if (!node) return std::optional<double>{};
    const auto value = node->is_number() ? node->value<double>() : std::nullopt;
    if (value && std::isfinite(*value)) return value;
    return refuse(field, fmt::format("'{}' is no finite number", field), "Give a number without quotes.");
  }

  [[nodiscard]] Table named(std::string key) const { return {table_, file_, std::move(key)}; }

 private:
  const toml::table& table_;
  const std::string& file_;
  std::string key_;
};

Result<store::SourceMark> read_mark(const Table& table, store::SourceMark otherwise) {
  auto text = table.text("mark", store::name_of(otherwise));
  if (!text) return tl::unexpected(text.error());
  const auto found = std::ranges::find_if(kMarks, [&](auto mark) { return *text == store::name_of(mark); });
  if (found != kMarks.end()) return *found;
  std::vector<std::string> names;
  for (auto mark : kMarks) names.emplace_back(store::name_of(mark));
  return table.refuse("mark", fmt::format("'{}' is no mark", *text),
                      fmt::format("Use one of {}.", fmt::join(names, ", ")));
}

Result<nlohmann::json> condition_value(const Table& table, const std::string& key, const toml::node& node) {
  const auto words = std::ranges::find(kConditionWords, key, &ConditionWords::key);
  if (words == kConditionWords.end()) {
    // A whole number stays one, so that it equals what procedures and findings carry.
    if (const auto whole = node.value_exact<std::int64_t>(); whole && *whole > 0) return nlohmann::json(*whole);
    if (const auto value = node.value_exact<double>(); value && *value > 0) return nlohmann::json(*value);
    return table.refuse("conditions", fmt::format("condition '{}' is no number above 0", key), "Give a number.");
  }
  const auto text = node.value_exact<std::string>();
  if (text && std::ranges::find(words->words, *text) != words->words.end()) return nlohmann::json(*text);
  return table.refuse("conditions", fmt::format("condition '{}' has no such value", key),
                      fmt::format("Use one of {}.", fmt::join(words->words, ", ")));
}

Result<nlohmann::json> read_conditions(const Table& table, const procedure::Quantity& quantity) {
  const auto wanted = procedure::condition_keys(quantity);
  nlohmann::json conditions = nlohmann::json::object();
  if (const auto* node = table.get("conditions")) {
    const auto* given = node->as_table();
    if (!given) return table.refuse("conditions", "'conditions' is no table", "Write { key = value, ... }.");
    for (const auto& [key, value] : *given) {
      const std::string name(key.str());
      if (std::ranges::find(wanted, name) == wanted.end())
        return table.refuse("conditions", fmt::format("{} has no condition '{}'", quantity.key, name),
                            wanted.empty() ? "It has none." : fmt::format("It has {}.", fmt::join(wanted, ", ")));
      auto read = condition_value(table, name, value);
      if (!read) return read;
      conditions[name] = std::move(*read);
    }
  }
  for (const auto& key : wanted)
    if (!conditions.contains(key))
      return table.refuse("conditions", fmt::format("{} needs the condition '{}'", quantity.key, key),
                          fmt::format("Add conditions = {{ {} = ... }}.", key));
  return conditions;
}

Result<void> read_limits(const Table& table, store::QuestionRecord& question) {
  const int given = table.has("at_least") + table.has("at_most") + table.has("within");
  if (given > 1)
    return table.refuse(table.has("within") ? "within" : "at_most", "more than one comparison",
                        "Give one of at_least, at_most, within.");
  auto lower = table.number("at_least");
  if (!lower) return tl::unexpected(lower.error());
  auto upper = table.number("at_most");
  if (!upper) return tl::unexpected(upper.error());
  question.comparison = *upper ? store::Comparison::at_most : store::Comparison::at_least;
  question.lower = *lower;
  question.upper = *upper;
  const auto* range = table.get("within");
  if (!range) return {};
  const auto* pair = range->as_array();
  const auto bound = [&](std::size_t i) {
    return pair->get(i)->is_number() ? pair->get(i)->value<double>() : std::nullopt;
  };
  if (pair && pair->size() == 2) {
    question.comparison = store::Comparison::within;
    question.lower = bound(0);
    question.upper = bound(1);
  }
  if (!question.lower || !question.upper || !(*question.lower < *question.upper))
    return table.refuse("within", "'within' is no range", "Write within = [lower, upper], lower first.");
  return {};
}

/// A limit must say how it is known, and memory is no source.
Result<void> check_mark(const Table& table, store::QuestionRecord& question, bool marked) {
  if (!question.lower && !question.upper) {
    question.mark = store::SourceMark::unset;
    return {};
  }
  if (question.mark == store::SourceMark::from_memory)
    return table.refuse("mark", "a limit from memory is no limit",
                        "Open the document and mark it seen, or leave the limit out.");
  if (!marked || question.mark == store::SourceMark::unset)
    return table.refuse("mark", "a limit without a mark",
                        "Say how it is known: seen, second_hand, calculated, common_practice or claim.");
  return {};
}

std::string key_of(const store::QuestionRecord& question) {
  std::string key = question.quantity;
  for (const auto& [name, value] : question.conditions.items())
    key += "-" + (value.is_string() ? value.get<std::string>() : value.dump());
  std::ranges::replace(key, '_', '-');
  return key;
}

Result<store::QuestionRecord> read_question(const Table& table, const RequirementSet& set,
                                            std::optional<store::SourceMark> set_mark) {
  if (auto known = table.only(kQuestionKeys); !known) return tl::unexpected(known.error());
  store::QuestionRecord question;
  for (auto [field, target, otherwise] :
       {std::tuple{"key", &question.key, std::string()}, std::tuple{"text", &question.text, std::string()},
        std::tuple{"quantity", &question.quantity, std::string()}, std::tuple{"unit", &question.unit, std::string()},
        std::tuple{"clause", &question.clause, std::string()}, std::tuple{"source", &question.source, set.source}}) {
    auto text = table.text(field, otherwise);
    if (!text) return tl::unexpected(text.error());
    *target = std::move(*text);
  }
  const Table here = table.named(question.key.empty() ? question.quantity : question.key);
  const auto* quantity = procedure::find_quantity(question.quantity);
  if (!quantity)
    return here.refuse("quantity", fmt::format("'{}' is no quantity of the catalogue", question.quantity),
                       "Use a quantity that a procedure measures, for example peak_luminance.");
  if (question.unit != quantity->unit)
    return here.refuse("unit",
                       fmt::format("unit '{}', but {} is in '{}'", question.unit, quantity->key, quantity->unit),
                       fmt::format("Write unit = \"{}\" and give the limits in it.", quantity->unit));
  auto conditions = read_conditions(here, *quantity);
  if (!conditions) return tl::unexpected(conditions.error());
  question.conditions = std::move(*conditions);
  if (auto limits = read_limits(here, question); !limits) return tl::unexpected(limits.error());
  auto mark = read_mark(here, set_mark.value_or(store::SourceMark::unset));
  if (!mark) return tl::unexpected(mark.error());
  question.mark = *mark;
  if (auto ok = check_mark(here, question, here.has("mark") || set_mark); !ok) return tl::unexpected(ok.error());
  auto weight = here.number("weight");
  if (!weight) return tl::unexpected(weight.error());
  question.weight = weight->value_or(1);
  if (question.weight < 0) return here.refuse("weight", "a weight below 0", "Give 0 or more.");
  question.set = set.id;
  if (question.key.empty()) question.key = key_of(question);
  if (question.text.empty()) question.text = fmt::format("{}?", quantity->title);
  return question;
}

Result<std::optional<store::SourceMark>> read_head(const Table& table, RequirementSet& set) {
  if (auto known = table.only(kSetKeys); !known) return tl::unexpected(known.error());
  for (auto [field, target] : {std::pair{"id", &set.id}, std::pair{"title", &set.title},
                               std::pair{"source", &set.source}, std::pair{"note", &set.note}}) {
    auto text = table.text(field, "");
    if (!text) return tl::unexpected(text.error());
    *target = std::move(*text);
  }
  for (const char* field : {"id", "title", "source"})
    if (!table.has(field))
      return table.refuse(field, fmt::format("the set has no {}", field), fmt::format("Add {} = \"...\".", field));
  if (const auto* node = table.get("invented")) {
    const auto value = node->value_exact<bool>();
    if (!value) return table.refuse("invented", "'invented' is neither true nor false", "Write true or false.");
    set.invented = *value;
  }
  if (!table.has("mark")) return std::optional<store::SourceMark>{};
  auto mark = read_mark(table, store::SourceMark::unset);
  if (!mark) return tl::unexpected(mark.error());
  return std::optional{*mark};
}

/// The questions of the built-in set that this one extends; they become this set's own.
Result<void> take_base(const Table& head, RequirementSet& set) {
  auto name = head.text("extends", "");
  if (!name) return tl::unexpected(name.error());
  if (name->empty()) return {};
  const auto text = built_in_requirement_text(*name);
  if (!text)
    return head.refuse("extends", fmt::format("no built-in set '{}'", *name),
                       fmt::format("There are {}.", fmt::join(built_in_requirement_sets(), ", ")));
  if (*name == set.id) return head.refuse("extends", "the set extends itself", "Name another set.");
  auto base = parse_requirement_set(*text, *name);
  if (!base) return tl::unexpected(base.error());
  set.questions = std::move(base->questions);
  for (auto& question : set.questions) question.set = set.id;
  return {};
}

/// A question of this set takes the place of the extended set's question of the same key.
void put(store::QuestionRecord question, RequirementSet& set) {
  const auto same = std::ranges::find(set.questions, question.key, &store::QuestionRecord::key);
  if (same == set.questions.end())
    set.questions.push_back(std::move(question));
  else
    *same = std::move(question);
}

}  // namespace

Result<RequirementSet> parse_requirement_set(std::string_view text, const std::string& file) {
  toml::table parsed;
  try {
    parsed = toml::parse(text, file);
  } catch (const toml::parse_error& e) {  // the one exception of the parser; none leaves this function
    return fail(ErrorCode::invalid_input, std::string(e.description()), "Mend the TOML syntax.",
                {.file = file, .line = static_cast<int>(e.source().begin.line)});
  }
  const Table head(parsed, file, "");
  RequirementSet set;
  auto mark = read_head(head, set);
  if (!mark) return tl::unexpected(mark.error());
  if (auto ok = take_base(head, set); !ok) return tl::unexpected(ok.error());
  const auto* questions = parsed["question"].as_array();
  if (!questions || questions->empty()) {
    if (!set.questions.empty() && !head.has("question")) return set;
    return head.refuse("question", "the set has no questions", "Add at least one [[question]].");
  }
  std::set<std::string> keys;
  for (const auto& node : *questions) {
    const auto* table = node.as_table();
    if (!table) return head.refuse("question", "'question' is no table", "Write [[question]] above its keys.");
    const Table here(*table, file, "");
    auto question = read_question(here, set, *mark);
    if (!question) return tl::unexpected(question.error());
    if (!keys.insert(question->key).second)
      return here.refuse("key", fmt::format("the key '{}' is there twice", question->key),
                         "Give each question its own.");
    put(std::move(*question), set);
  }
  return set;
}

std::vector<std::string> built_in_requirement_sets() {
  std::vector<std::string> names;
  for (const auto& [path, bytes] : evaluation_assets())
    if (path.ends_with(".toml")) names.emplace_back(path.substr(1, path.size() - 6));
  return names;
}

std::optional<std::string_view> built_in_requirement_text(std::string_view name) {
  const auto text = find_evaluation_asset(fmt::format("/{}.toml", name));
  if (text.empty()) return std::nullopt;
  return text;
}

Result<RequirementSet> find_requirement_set(const std::string& name_or_path,
                                            const std::function<Result<std::string>(const std::string&)>& read) {
  if (const auto text = built_in_requirement_text(name_or_path)) return parse_requirement_set(*text, name_or_path);
  const bool path = name_or_path.find('/') != std::string::npos || name_or_path.ends_with(".toml");
  if (!path)
    return fail(ErrorCode::not_found, fmt::format("no requirement set '{}'", name_or_path),
                fmt::format("There are {}; or give the path of a file.", fmt::join(built_in_requirement_sets(), ", ")));
  auto text = read(name_or_path);
  if (!text) return tl::unexpected(text.error());
  return parse_requirement_set(*text, name_or_path);
}

}  // namespace provenit::evaluation
