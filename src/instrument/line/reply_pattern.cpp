#include "provenit/instrument/reply_pattern.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <span>
#include <utility>

#include "line/reply_fields.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr int kMostLines = 10000;

struct Element {
  enum class Kind { literal, blank, number, count, list, text } kind = Kind::literal;
  std::string literal;  ///< literal: the text; otherwise the field's name
  double factor = 1;
  bool discarded = false;
};

struct CompiledLine {
  std::vector<Element> elements;
  int repeat = 1;
  bool repeat_by_count = false;
  [[nodiscard]] bool repeated() const { return repeat != 1 || repeat_by_count; }
};

bool is_blank(char c) {
  return c == ' ' || c == '\t';
}

bool is_field(const Element& element) {
  return element.kind != Element::Kind::literal && element.kind != Element::Kind::blank;
}

tl::unexpected<Error> bad_pattern(std::string message, std::string advice = {}) {
  return fail(ErrorCode::invalid_input, std::move(message), std::move(advice));
}

/// `inside` is what stands between the braces.
Result<Element> compile_field(std::string_view inside) {
  const auto colon = inside.find(':');
  std::string_view name = trim(inside.substr(0, colon));
  const std::string_view unit = colon == std::string_view::npos ? std::string_view{} : trim(inside.substr(colon + 1));
  const bool list = name.ends_with("...");
  if (list) name.remove_suffix(3);
  const auto rule = field_rule(name);
  if (!rule)
    return bad_pattern(fmt::format("there is no field {{{}}}", escaped(name)), "docs/instruments.md lists the fields.");
  if (list && !rule->may_be_list)
    return bad_pattern(fmt::format("{{{}}} cannot be a list", name), "Only wavelength and radiance can.");
  const auto factor = unit_factor(name, unit);
  if (!factor) {
    if (rule->unit_list.empty()) return bad_pattern(fmt::format("{{{}}} has no unit", name));
    return bad_pattern(fmt::format("{{{}}} has {} unit '{}'", name, unit.empty() ? "no" : "the", escaped(unit)),
                       fmt::format("Write {{{}:unit}} with one of: {}.", name, rule->unit_list));
  }
  Element element{Element::Kind::number, std::string(name), *factor, rule->discarded};
  if (rule->kind == FieldKind::text) element.kind = Element::Kind::text;
  if (rule->kind == FieldKind::count) element.kind = Element::Kind::count;
  if (list) element.kind = Element::Kind::list;
  return element;
}

/// Adds a character of literal text; blanks make one blank element, but none at the front.
void add_literal(std::vector<Element>& elements, char c) {
  if (is_blank(c)) {
    if (!elements.empty() && elements.back().kind != Element::Kind::blank)
      elements.push_back({Element::Kind::blank, {}});
  } else if (!elements.empty() && elements.back().kind == Element::Kind::literal) {
    elements.back().literal += c;
  } else {
    elements.push_back({Element::Kind::literal, {c}});
  }
}

Result<CompiledLine> compile_line(const LinePattern& line) {
  CompiledLine out{{}, line.repeat, line.repeat_by_count};
  if (line.repeat < 1 || line.repeat > kMostLines)
    return bad_pattern(fmt::format("a line cannot be repeated {} times", line.repeat), "Use 1 to 10000.");
  const std::string_view text = line.text;
  for (std::size_t at = 0; at < text.size(); ++at) {
    const bool doubled = at + 1 < text.size() && text[at + 1] == text[at];
    if (text[at] == '\n' || text[at] == '\r')
      return bad_pattern("a line pattern holds a line break", "Give each line of the reply a pattern of its own.");
    if (text[at] == '}' && !doubled) return bad_pattern("a } stands alone", "Write }} for a brace.");
    if ((text[at] == '{' || text[at] == '}') && doubled) {
      add_literal(out.elements, text[at++]);
    } else if (text[at] == '{') {
      const auto end = text.find('}', at);
      if (end == std::string_view::npos) return bad_pattern("a { is not closed", "Write {{ for a brace.");
      auto field = compile_field(text.substr(at + 1, end - at - 1));
      if (!field) return tl::unexpected(field.error());
      if (!out.elements.empty() && is_field(out.elements.back()))
        return bad_pattern(fmt::format("nothing parts {{{}}} from the field before it", field->literal),
                           "Put the text or blank that parts them between.");
      out.elements.push_back(std::move(*field));
      at = end;
    } else {
      add_literal(out.elements, text[at]);
    }
  }
  if (!out.elements.empty() && out.elements.back().kind == Element::Kind::blank) out.elements.pop_back();
  return out;
}

/// What is said of the place where a line stopped matching.
std::string expected_at(std::size_t line, std::string_view whole, std::string_view rest, const std::string& expected) {
  const auto got = rest.empty() ? std::string("the end of the line") : fmt::format("'{}'", escaped(rest.substr(0, 20)));
  return fmt::format("line {}, place {}: {} was expected, {} came", line + 1, whole.size() - rest.size() + 1, expected,
                     got);
}

void skip_blanks(std::string_view& rest) {
  while (!rest.empty() && is_blank(rest.front())) rest.remove_prefix(1);
}

/// Takes a separator between list items; false, with `rest` unchanged, if no number follows.
bool take_list_item(std::string_view& rest, bool first, bool decimal_comma, double& value) {
  std::string_view probe = rest;
  skip_blanks(probe);
  if (!first) {
    const bool parted = probe.size() != rest.size();
    const bool mark = !probe.empty() && (probe.front() == ';' || (probe.front() == ',' && !decimal_comma));
    if (mark) probe.remove_prefix(1);
    if (!mark && !parted) return false;
    skip_blanks(probe);
  }
  const auto number = take_number(probe, decimal_comma);
  if (!number) return false;
  value = *number;
  rest = probe;
  return true;
}

/// Matches one line, already trimmed, and adds its fields. Returns why not; empty if it matches.
class LineMatcher {
 public:
  LineMatcher(std::size_t line, std::string_view whole, const ReplyLimits& limits, ReplyFields& fields)
      : line_(line), whole_(whole), rest_(whole), limits_(limits), fields_(fields) {}

  std::string run(const std::vector<Element>& elements) {
    for (std::size_t i = 0; i < elements.size(); ++i) {
      const std::string expected = take(elements, i);
      if (!expected.empty()) return expected_at(line_, whole_, rest_, expected);
    }
    if (!rest_.empty()) return expected_at(line_, whole_, rest_, "the end of the line");
    return {};
  }

 private:
  /// Returns what was expected if the element is not there.
  std::string take(const std::vector<Element>& elements, std::size_t i) {
    const Element& element = elements[i];
    switch (element.kind) {
      case Element::Kind::literal:
        if (!rest_.starts_with(element.literal)) return fmt::format("'{}'", escaped(element.literal));
        rest_.remove_prefix(element.literal.size());
        return {};
      case Element::Kind::blank:
        if (rest_.empty() || !is_blank(rest_.front())) return "a blank";
        skip_blanks(rest_);
        return {};
      case Element::Kind::text:
        return take_text(elements, i);
      case Element::Kind::list:
        return take_list(element);
      case Element::Kind::number:
      case Element::Kind::count:
        return take_one(element);
    }
    return "a known element";
  }

  std::string take_one(const Element& element) {
    skip_blanks(rest_);
    const auto before = rest_;
    const auto number = take_number(rest_, limits_.decimal_comma);
    if (!number) return fmt::format("a number ({})", element.literal);
    if (element.kind == Element::Kind::count &&
        (*number < 1 || *number > kMostLines || *number != std::floor(*number))) {
      rest_ = before;
      return "a count of 1 to 10000";
    }
    if (!element.discarded) fields_.numbers[element.literal].push_back(*number * element.factor);
    return {};
  }

  std::string take_list(const Element& element) {
    auto& list = fields_.numbers[element.literal];
    double value = 0;
    for (bool first = true; take_list_item(rest_, first, limits_.decimal_comma, value); first = false)
      list.push_back(value * element.factor);
    return list.empty() ? fmt::format("a list of numbers ({})", element.literal) : std::string{};
  }

  /// Takes text up to the first place where the blanks and literals that follow it in the pattern match; where nothing
  /// else follows those, they must end the line, so that the text may hold them too.
  std::string take_text(const std::vector<Element>& elements, std::size_t i) {
    std::size_t next = i + 1;
    while (next < elements.size() && !is_field(elements[next])) ++next;
    const std::span<const Element> following(elements.data() + i + 1, next - i - 1);
    for (std::size_t end = 0; end <= rest_.size(); ++end) {
      const auto after = matched_by(following, rest_.substr(end));
      if (!after || (next == elements.size() && *after + end != rest_.size())) continue;
      if (!elements[i].discarded) fields_.texts[elements[i].literal] = escaped(trim(rest_.substr(0, end)));
      rest_.remove_prefix(end);
      return {};
    }
    return following.front().kind == Element::Kind::blank && following.size() == 1
               ? "a blank"
               : fmt::format("'{}'", escaped(following.back().literal));
  }

  /// How many characters of `text` the blanks and literals take; nullopt if they do not match.
  static std::optional<std::size_t> matched_by(std::span<const Element> elements, std::string_view text) {
    std::string_view rest = text;
    for (const auto& element : elements) {
      if (element.kind == Element::Kind::blank) {
        if (rest.empty() || !is_blank(rest.front())) return std::nullopt;
        skip_blanks(rest);
      } else {
        if (!rest.starts_with(element.literal)) return std::nullopt;
        rest.remove_prefix(element.literal.size());
      }
    }
    return text.size() - rest.size();
  }

  std::size_t line_;
  std::string_view whole_, rest_;
  const ReplyLimits& limits_;
  ReplyFields& fields_;
};

/// The lines at the front of some bytes, one by one.
class LineReader {
 public:
  LineReader(std::string_view bytes, const ReplyLimits& limits) : bytes_(bytes), limits_(limits) {}

  ReplyState next(std::string_view& line) {
    begin_ = end_;
    const auto at = bytes_.find(limits_.ending, begin_);
    const auto length = (at == std::string_view::npos ? bytes_.size() : at) - begin_;
    if (length > limits_.line_bytes) {
      end_ = at == std::string_view::npos ? bytes_.size() : at + limits_.ending.size();
      return ReplyState::bad;
    }
    if (at == std::string_view::npos) return ReplyState::more;
    end_ = at + limits_.ending.size();
    line = trim(bytes_.substr(begin_, length));
    return ReplyState::good;
  }
  [[nodiscard]] std::size_t begin() const { return begin_; }
  [[nodiscard]] std::size_t end() const { return end_; }

 private:
  std::string_view bytes_;
  const ReplyLimits& limits_;
  std::size_t begin_ = 0, end_ = 0;
};

}  // namespace

struct ReplyPattern::Compiled {
  std::vector<CompiledLine> lines;
};

namespace {

/// Field names may occur once, discarded ones as often as wanted; {count} must come before the line it repeats.
Result<void> check_fields(const std::vector<CompiledLine>& lines) {
  std::set<std::string> seen;
  for (const auto& line : lines) {
    if (line.repeat_by_count && !seen.contains("count"))
      return bad_pattern("a line is repeated by {count}, but no line before it has {count}");
    for (const auto& element : line.elements) {
      if (!is_field(element) || element.discarded) continue;
      if (!seen.insert(element.literal).second)
        return bad_pattern(fmt::format("{{{}}} occurs twice", element.literal), "Use {skip} or {text} for the other.");
      if (line.repeated() && element.kind != Element::Kind::number)
        return bad_pattern(fmt::format("{{{}}} cannot stand in a repeated line", element.literal));
      if (line.repeated() && element.literal != "wavelength" && element.literal != "radiance")
        return bad_pattern(fmt::format("{{{}}} cannot stand in a repeated line", element.literal),
                           "Only wavelength, radiance, {skip} and {text} can.");
    }
  }
  return {};
}

}  // namespace

Result<ReplyPattern> ReplyPattern::compile(std::vector<LinePattern> lines) {
  if (lines.empty()) return bad_pattern("a reply needs at least one line");
  auto compiled = std::make_shared<Compiled>();
  for (std::size_t i = 0; i < lines.size(); ++i) {
    auto line = compile_line(lines[i]);
    if (!line) {
      line.error().message =
          fmt::format("reply pattern '{}', line {}: {}", escaped(lines[i].text), i + 1, line.error().message);
      return tl::unexpected(line.error());
    }
    compiled->lines.push_back(std::move(*line));
  }
  if (auto checked = check_fields(compiled->lines); !checked) return tl::unexpected(checked.error());
  ReplyPattern pattern;
  pattern.compiled_ = std::move(compiled);
  return pattern;
}

Result<ReplyPattern> ReplyPattern::compile(std::string_view one_line) {
  return compile(std::vector<LinePattern>{{std::string(one_line), 1, false}});
}

ReplyMatch ReplyPattern::match(std::string_view bytes, const ReplyLimits& limits) const {
  ReplyMatch out;
  LineReader reader(bytes, limits);
  std::size_t number = 0;
  const auto stop = [&](ReplyState state, std::string why) {
    out.state = state;
    out.why = std::move(why);
    out.line_begin = reader.begin();
    out.consumed = state == ReplyState::bad ? reader.end() : 0;
    return std::move(out);
  };
  for (const auto& pattern : compiled_->lines) {
    const auto count = out.fields.numbers.find("count");
    const int repeat = pattern.repeat_by_count ? static_cast<int>(count->second.front()) : pattern.repeat;
    for (int i = 0; i < repeat; ++i, ++number) {
      std::string_view line;
      const auto state = reader.next(line);
      if (state == ReplyState::bad)
        return stop(state, fmt::format("line {} is longer than {} bytes", number + 1, limits.line_bytes));
      if (state == ReplyState::more) return stop(state, {});
      auto why = LineMatcher(number, line, limits, out.fields).run(pattern.elements);
      if (!why.empty()) return stop(ReplyState::bad, std::move(why));
    }
  }
  out.state = ReplyState::good;
  out.consumed = reader.end();
  return out;
}

bool ReplyPattern::has(std::string_view field) const {
  return std::ranges::any_of(compiled_->lines, [&](const CompiledLine& line) {
    return std::ranges::any_of(line.elements, [&](const Element& e) { return is_field(e) && e.literal == field; });
  });
}

}  // namespace provenit::instrument
