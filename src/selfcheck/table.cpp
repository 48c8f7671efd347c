#include "table.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <map>
#include <optional>

#include "provenit/base/text.h"

namespace provenit::selfcheck {
namespace {

constexpr std::array<std::string_view, 6> kColumns{"id", "quantity", "inputs", "expected", "tolerance", "source"};

/// Fields of a line, quotes undone (RFC 4180, no line break inside a field); nullopt for a quote that is left open.
std::optional<std::vector<std::string>> fields_of(std::string_view line) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
      fields.back() += '"';
      ++i;
    } else if (c == '"' && (quoted || trim(fields.back()).empty())) {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      fields.emplace_back();
    } else {
      fields.back() += c;
    }
  }
  if (quoted) return std::nullopt;
  for (auto& field : fields) field = std::string(trim(field));
  return fields;
}

/// Lines of the file with their numbers, without comments and blank ones.
std::vector<std::pair<int, std::string_view>> lines_of(std::string_view text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  std::vector<std::pair<int, std::string_view>> lines;
  int number = 0;
  for (auto line : split(text, '\n')) {
    ++number;
    line = trim(line);
    if (!line.empty() && line.front() != '#') lines.emplace_back(number, line);
  }
  return lines;
}

/// Well-formed UTF-8 (RFC 3629): no overlong forms, no surrogates, nothing above U+10FFFF.
bool is_utf8(std::string_view text) {
  int following = 0;
  unsigned lowest = 0x80, highest = 0xBF;  // of the next continuation byte
  for (const unsigned char c : text) {
    if (following > 0) {
      if (c < lowest || c > highest) return false;
      --following;
      lowest = 0x80;
      highest = 0xBF;
    } else if (c >= 0x80) {
      if (c < 0xC2 || c > 0xF4) return false;
      following = c < 0xE0 ? 1 : c < 0xF0 ? 2 : 3;
      if (c == 0xE0) lowest = 0xA0;
      if (c == 0xED) highest = 0x9F;
      if (c == 0xF0) lowest = 0x90;
      if (c == 0xF4) highest = 0x8F;
    }
  }
  return following == 0;
}

/// Position of each of kColumns in the header.
Result<std::array<std::size_t, 6>> columns_of(int line, std::string_view header, const std::string& file) {
  const auto bad = [&](std::string message, std::string field) {
    return fail(ErrorCode::invalid_input, std::move(message),
                "The first row that is no comment must name the columns: id,quantity,inputs,expected,tolerance,source.",
                {.file = file, .line = line, .field = std::move(field)});
  };
  if (!is_utf8(header)) return bad("the header row is not UTF-8 text", {});
  const auto names = fields_of(header);
  if (!names) return bad("the header row has an open quote", {});
  for (const auto& name : *names) {
    if (std::find(kColumns.begin(), kColumns.end(), name) == kColumns.end())
      return bad(fmt::format("'{}' is no column of this table", name), name);
    if (std::count(names->begin(), names->end(), name) > 1)
      return bad(fmt::format("column '{}' is there twice", name), name);
  }
  std::array<std::size_t, 6> at{};
  for (std::size_t i = 0; i < kColumns.size(); ++i) {
    const auto found = std::find(names->begin(), names->end(), kColumns[i]);
    if (found == names->end())
      return bad(fmt::format("the header row has no column '{}'", kColumns[i]), std::string(kColumns[i]));
    at[i] = static_cast<std::size_t>(found - names->begin());
  }
  return at;
}

bool is_word(std::string_view text) {
  return !text.empty() &&
         std::all_of(text.begin(), text.end(), [](unsigned char c) { return std::isalnum(c) != 0 || c == '_'; });
}

/// One piece between semicolons. "kL=kC=kH=1" gives the value to each of the three keys.
void add_piece(Inputs& inputs, std::string_view piece) {
  auto parts = split(piece, '=');
  if (parts.size() == 1) {
    inputs.notes.emplace_back(piece);
    return;
  }
  const bool chain = std::all_of(parts.begin(), parts.end() - 1, [](auto p) { return is_word(trim(p)); });
  if (!chain) parts = {parts[0], piece.substr(parts[0].size() + 1)};
  for (std::size_t i = 0; i + 1 < parts.size(); ++i) {
    const std::string key(trim(parts[i]));
    const auto same = std::find_if(inputs.values.begin(), inputs.values.end(), [&](auto& v) { return v.first == key; });
    if (same != inputs.values.end())
      same->second = std::string(trim(parts.back()));
    else
      inputs.values.emplace_back(key, std::string(trim(parts.back())));
  }
}

tl::unexpected<Error> bad_inputs(std::string message, std::string advice) {
  return fail(ErrorCode::invalid_input, std::move(message), std::move(advice), {.field = "inputs"});
}

/// The same key twice in one row is a slip: which of the two was meant?
std::optional<std::string> key_given_twice(std::string_view inputs) {
  std::map<std::string, int> seen;
  for (const auto piece : split(inputs, ';')) {
    const auto equals = piece.find('=');
    if (equals == std::string_view::npos) continue;
    const std::string key(trim(piece.substr(0, equals)));
    if (++seen[key] > 1) return key;
  }
  return std::nullopt;
}

/// "as" may lead to a row that says "as" itself, but not for ever.
constexpr int kLongestChain = 16;

Result<Inputs> follow(const Table& table, const TableRow& row, int depth);

/// The inputs of the row with this id.
Result<Inputs> taken_over(const Table& table, std::string_view id, int depth) {
  const auto row = std::find_if(table.rows.begin(), table.rows.end(), [id](const TableRow& r) { return r.id == id; });
  if (row == table.rows.end())
    return bad_inputs(fmt::format("'as {}' names no row of this table", id),
                      "Give the id of a row, or the inputs themselves.");
  return follow(table, *row, depth + 1);
}

Result<Inputs> follow(const Table& table, const TableRow& row, int depth) {
  if (depth > kLongestChain)
    return bad_inputs(fmt::format("'as' goes round in a circle, or over {} rows", kLongestChain),
                      "Give the inputs in one of the rows.");
  if (const auto twice = key_given_twice(row.inputs))
    return bad_inputs(fmt::format("the key '{}' is given twice", *twice), "Give it once.");
  std::vector<std::string_view> own;
  std::optional<std::string_view> id;
  for (auto piece : split(row.inputs, ';')) {
    piece = trim(piece);
    const bool takes_over = piece.starts_with("as ") && piece.find('=') == std::string_view::npos;
    if (takes_over && id) return bad_inputs("'as' is given twice", "Take over the inputs of one row.");
    if (takes_over)
      id = trim(piece.substr(3));
    else if (!piece.empty())
      own.push_back(piece);
  }
  auto inputs = id ? taken_over(table, *id, depth) : Inputs{};
  if (!inputs) return inputs;
  for (const auto piece : own) add_piece(*inputs, piece);
  return inputs;
}

/// The fields of one line in their columns.
Result<TableRow> row_in(int line, std::string_view content, const std::array<std::size_t, 6>& at,
                        const std::string& file) {
  const auto bad = [&](std::string message, std::string advice, std::string field) {
    return fail(ErrorCode::invalid_input, std::move(message), std::move(advice),
                {.file = file, .line = line, .field = std::move(field)});
  };
  if (!is_utf8(content)) return bad("the row is not UTF-8 text", "Save the table as UTF-8.", {});
  const auto fields = fields_of(content);
  if (!fields) return bad("a quote is left open", "Close it, or write the field without quotes.", {});
  if (fields->size() != kColumns.size())
    return bad(fmt::format("the row has {} fields, the header names {}", fields->size(), kColumns.size()),
               "No field may hold a comma unless it is quoted.", {});
  const auto field = [&](std::size_t column) { return (*fields)[at[column]]; };
  if (field(0).empty()) return bad("the row has no id", "Give each row an id of its own.", "id");
  return TableRow{line, field(0), field(1), field(2), field(3), field(4), field(5)};
}

}  // namespace

Result<Table> read_table(std::string_view text, const std::string& file) {
  const auto lines = lines_of(text);
  if (lines.empty())
    return fail(ErrorCode::invalid_input, "the table has no header row",
                "The first row that is no comment must name the columns: id,quantity,inputs,expected,tolerance,source.",
                {.file = file});
  const auto at = columns_of(lines[0].first, lines[0].second, file);
  if (!at) return tl::unexpected(at.error());
  Table table;
  std::map<std::string, int> line_of_id;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const auto& [line, content] = lines[i];
    auto row = row_in(line, content, *at, file);
    if (row) {
      const auto [first, fresh] = line_of_id.try_emplace(row->id, line);
      if (!fresh)
        row =
            fail(ErrorCode::invalid_input, fmt::format("the id {} is already that of line {}", row->id, first->second),
                 "Give each row an id of its own.", {.file = file, .line = line, .field = "id"});
    }
    if (row)
      table.rows.push_back(std::move(*row));
    else
      table.errors.push_back(row.error());
  }
  return table;
}

Result<Inputs> inputs_of(const Table& table, const TableRow& row) {
  return follow(table, row, 0);
}

}  // namespace provenit::selfcheck
