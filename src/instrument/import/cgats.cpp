// CGATS.17 / ISO 28178 text: keywords, a data format and data sets, once or several times in a file.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <iterator>
#include <optional>

#include "import/table.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr std::size_t kMostFields = 10000;

struct Token {
  std::string text;
  bool quoted = false;
};

struct TokenLine {
  int line = 0;
  std::vector<Token> tokens;
  std::string raw;
  bool unclosed = false;
};

/// Words parted by blanks, "quoted text" as one word, # to the end of the line left out.
TokenLine tokens_of(std::string_view text, int line) {
  TokenLine out{line, {}, std::string(trim(text)), false};
  for (std::size_t at = 0; at < text.size();) {
    if (text[at] == ' ' || text[at] == '\t') {
      ++at;
    } else if (text[at] == '#') {
      break;
    } else if (text[at] == '"') {
      const auto end = text.find('"', at + 1);
      out.unclosed = out.unclosed || end == std::string_view::npos;
      const auto stop = end == std::string_view::npos ? text.size() : end;
      out.tokens.push_back({std::string(text.substr(at + 1, stop - at - 1)), true});
      at = stop + 1;
    } else {
      const auto end = std::min(text.find_first_of(" \t#", at), text.size());
      out.tokens.push_back({std::string(text.substr(at, end - at)), false});
      at = end;
    }
  }
  return out;
}

std::vector<TokenLine> lines_of(std::string_view bytes) {
  std::vector<TokenLine> out;
  for (int line = 1; !bytes.empty(); ++line) {
    const auto end = std::min(bytes.find_first_of("\r\n"), bytes.size());
    auto tokens = tokens_of(bytes.substr(0, end), line);
    bytes.remove_prefix(end);
    bytes.remove_prefix(bytes.starts_with("\r\n") ? 2 : bytes.empty() ? 0 : 1);
    if (!tokens.tokens.empty()) out.push_back(std::move(tokens));
  }
  return out;
}

std::string upper(std::string_view text) {
  std::string out(text);
  for (auto& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

struct Name {
  std::string_view name;
  Role role;
};
constexpr std::array kNames{
    Name{"SAMPLE_NAME", Role::sample}, Name{"XYZ_X", Role::X},     Name{"XYZ_Y", Role::Y}, Name{"XYZ_Z", Role::Z},
    Name{"XYY_CAPY", Role::Y},         Name{"XYY_X", Role::x},     Name{"XYY_Y", Role::y}, Name{"RGB_R", Role::r_code},
    Name{"RGB_G", Role::g_code},       Name{"RGB_B", Role::b_code}};

/// SPECTRAL_380, SPECTRAL_NM380, SPECTRAL_NM_380, nm380, NM_380.
std::optional<double> wavelength_of(std::string_view field) {
  bool spectral = false;
  for (const std::string_view prefix : {"SPECTRAL_", "NM_", "NM"}) {
    if (!field.starts_with(prefix)) continue;
    field.remove_prefix(prefix.size());
    spectral = true;
  }
  const auto cell = parse_cell(field);
  if (!spectral || !cell || !(cell->value > 0 && cell->value < 10000)) return std::nullopt;
  return cell->value;
}

double spectral_factor(SpectralUnit unit) {
  return unit == SpectralUnit::mw_per_sr_m2_nm ? 1e-3 : 1;
}

Column column_of(const std::string& field, bool has_name, const ImportOptions& o) {
  const auto name = upper(field);
  Column column{.role = Role::unused, .heading = field};
  const auto found = std::ranges::find(kNames, std::string_view(name), &Name::name);
  if (found != kNames.end()) column.role = found->role;
  if (!has_name && (name == "SAMPLE_ID" || name == "SAMPLEID")) column.role = Role::sample;
  const bool code = column.role == Role::r_code || column.role == Role::g_code || column.role == Role::b_code;
  if (code && !o.rgb_fields_are_codes) column.role = Role::unused;
  if (column.role == Role::X || column.role == Role::Y || column.role == Role::Z)
    column.relative = o.scale == ValueScale::relative;
  if (const auto wavelength = wavelength_of(name); wavelength && o.spectral_unit != SpectralUnit::unstated) {
    column.role = Role::spectral;
    column.wavelength_nm = *wavelength;
    column.factor = spectral_factor(o.spectral_unit);
    column.relative = o.spectral_unit == SpectralUnit::relative;
  }
  return column;
}

/// One remark for each kind of field that is left, not one for each of 400 wavelengths.
void remark_unused(const std::vector<Column>& columns, int line, const ImportOptions& o, ImportReport& report) {
  std::string others, rgb, spectral;
  for (const auto& c : columns) {
    if (c.role != Role::unused) continue;
    const auto name = upper(c.heading);
    auto& list = wavelength_of(name) ? spectral : name.starts_with("RGB_") ? rgb : others;
    if (&list == &others && (name == "SAMPLE_ID" || name == "SAMPLEID")) continue;
    list += (list.empty() ? "" : ", ") + c.heading;
  }
  const auto add = [&](const std::string& list, std::string why, std::string advice) {
    if (list.empty()) return;
    const auto shown = list.size() > 60 ? list.substr(0, list.find(',')) + " ..." : list;
    report.remarks.push_back(
        {ErrorCode::invalid_input, std::move(why), std::move(advice), {.file = o.file, .line = line, .field = shown}});
  };
  add(others, "these fields have no meaning here and are not used", {});
  add(rgb, "device values are not used: the file cannot say whether they are code values",
      "State that they are code values of the display's encoding, if they are.");
  add(spectral, "spectral values are not used: the file cannot state their unit", "State the spectral unit.");
}

struct Counts {
  std::optional<long long> fields, sets;
  int fields_line = -1, sets_line = -1;
};

/// Reads a file front to back; each method takes the lines it knows.
class CgatsReader {
 public:
  CgatsReader(std::vector<TokenLine> lines, const ImportOptions& o, ImportReport& report)
      : lines_(std::move(lines)), o_(o), report_(report) {}

  Result<std::vector<TextTable>> run() {
    std::vector<TextTable> tables;
    for (at_ = 0; at_ < lines_.size(); ++at_) {
      const auto& word = lines_[at_].tokens.front().text;
      if (word == "NUMBER_OF_FIELDS" || word == "NUMBER_OF_SETS") {
        if (auto r = count(); !r) return tl::unexpected(r.error());
      } else if (word == "BEGIN_DATA_FORMAT") {
        if (auto r = format(); !r) return tl::unexpected(r.error());
      } else if (word == "BEGIN_DATA") {
        auto table = data();
        if (!table) return tl::unexpected(table.error());
        tables.push_back(std::move(*table));
        counts_ = {};
      }
    }
    if (tables.empty()) return bad_file(o_, -1, "BEGIN_DATA", "the file holds no data", "It may be cut off: check it.");
    return tables;
  }

 private:
  Result<void> count() {
    const auto& line = lines_[at_];
    const auto& word = line.tokens.front().text;
    const auto value = line.tokens.size() > 1 ? parse_integer(line.tokens[1].text) : std::nullopt;
    if (!value || *value < 0) return bad_file(o_, line.line, word, "is no count", "Write the number after it.");
    (word == "NUMBER_OF_FIELDS" ? counts_.fields : counts_.sets) = value;
    (word == "NUMBER_OF_FIELDS" ? counts_.fields_line : counts_.sets_line) = line.line;
    return {};
  }

  /// Lines up to `end`; at_ is then on it. The words may stand on one line with BEGIN and END.
  Result<std::vector<TokenLine>> block(const std::string& end) {
    const int begin = lines_[at_].line;
    std::vector<TokenLine> out;
    for (++at_; at_ < lines_.size(); ++at_) {
      const auto& front = lines_[at_].tokens.front();
      if (!front.quoted && front.text == end) return out;
      if (lines_[at_].unclosed)
        return bad_file(o_, lines_[at_].line, "", "a quote is opened and never closed", "Close it on the same line.");
      out.push_back(lines_[at_]);
    }
    return bad_file(o_, begin, end, "is missing: the file may be cut off", "Get the whole file.");
  }

  Result<void> format() {
    const int line = lines_[at_].line;
    auto lines = block("END_DATA_FORMAT");
    if (!lines) return tl::unexpected(lines.error());
    std::vector<std::string> fields;
    for (const auto& l : *lines)
      for (const auto& token : l.tokens) fields.push_back(token.text);
    if (fields.empty() || fields.size() > kMostFields)
      return bad_file(o_, line, "BEGIN_DATA_FORMAT", fmt::format("names {} fields", fields.size()), "Name 1 to 10000.");
    if (counts_.fields && *counts_.fields != static_cast<long long>(fields.size()))
      return bad_file(o_, counts_.fields_line, "NUMBER_OF_FIELDS",
                      fmt::format("says {}, but the data format names {}", *counts_.fields, fields.size()),
                      "Correct the one that is wrong; the file may have been edited or cut off.");
    if (!counts_.fields) remark(line, "NUMBER_OF_FIELDS", "is missing: the data format was not checked against it");
    const bool has_name = std::ranges::any_of(fields, [](const auto& f) { return upper(f) == "SAMPLE_NAME"; });
    columns_.clear();
    for (const auto& field : fields) columns_.push_back(column_of(field, has_name, o_));
    remark_unused(columns_, line, o_, report_);
    return check_scale(line);
  }

  Result<void> check_scale(int line) {
    if (o_.scale != ValueScale::unstated) return {};
    for (const auto& c : columns_)
      if (c.role == Role::X || c.role == Role::Y || c.role == Role::Z)
        return bad_file(o_, line, c.heading, "a CGATS file cannot state whether its values are cd/m2 or relative",
                        "State the scale: absolute, or relative with the luminance of white.");
    return {};
  }

  Result<TextTable> data() {
    const int begin = lines_[at_].line;
    if (columns_.empty())
      return bad_file(o_, begin, "BEGIN_DATA", "no data format stands before the data",
                      "Put BEGIN_DATA_FORMAT before it.");
    auto lines = block("END_DATA");
    if (!lines) return tl::unexpected(lines.error());
    TextTable table;
    table.columns = columns_;
    if (wrapped(*lines))
      unwrap(*lines, table);
    else
      one_per_line(*lines, table);
    const auto sets = std::ssize(table.rows) + std::ssize(table.refused);
    if (counts_.sets && *counts_.sets != sets)
      return bad_file(o_, counts_.sets_line, "NUMBER_OF_SETS",
                      fmt::format("says {}, but {} stand between BEGIN_DATA and END_DATA", *counts_.sets, sets),
                      "Get the whole file, or correct the count.");
    if (!counts_.sets) remark(begin, "NUMBER_OF_SETS", "is missing: the data was not checked against it");
    return table;
  }

  /// Sets that run over several lines: every set must begin on a line of its own, so that one value too few in one
  /// place and one too many in another never pass for it.
  [[nodiscard]] bool wrapped(const std::vector<TokenLine>& lines) const {
    std::size_t in_set = 0;
    long long sets = 0;
    for (const auto& l : lines) {
      in_set += l.tokens.size();
      if (in_set == columns_.size()) in_set = 0, ++sets;
    }
    return in_set == 0 && counts_.sets == sets && lines.size() > static_cast<std::size_t>(sets);
  }

  void unwrap(const std::vector<TokenLine>& lines, TextTable& table) const {
    for (const auto& l : lines)
      for (const auto& token : l.tokens) {
        if (table.rows.empty() || table.rows.back().cells.size() == columns_.size())
          table.rows.push_back({l.line, {}, {}});
        auto& row = table.rows.back();
        row.raw += (row.raw.empty() ? "" : " ") + token.text;
        row.cells.push_back({token.text, l.line});
      }
  }

  void one_per_line(const std::vector<TokenLine>& lines, TextTable& table) const {
    for (const auto& l : lines) {
      if (l.tokens.size() != columns_.size()) {
        table.refused.push_back(
            {ErrorCode::invalid_input,
             fmt::format("the line has {} values, the data format {}", l.tokens.size(), columns_.size()),
             "Quote names that hold blanks; give every value.",
             {.file = o_.file, .line = l.line}});
        continue;
      }
      Row row{l.line, {}, l.raw};
      for (const auto& token : l.tokens) row.cells.push_back({token.text, l.line});
      table.rows.push_back(std::move(row));
    }
  }

  void remark(int line, std::string field, std::string message) {
    report_.remarks.push_back(
        {ErrorCode::invalid_input, std::move(message), {}, {.file = o_.file, .line = line, .field = std::move(field)}});
  }

  std::vector<TokenLine> lines_;
  const ImportOptions& o_;
  ImportReport& report_;
  std::size_t at_ = 0;
  std::vector<Column> columns_;
  Counts counts_;
};

}  // namespace

Result<std::vector<TextTable>> read_cgats(std::string_view bytes, const ImportOptions& options, ImportReport& report) {
  return CgatsReader(lines_of(bytes), options, report).run();
}

}  // namespace provenit::instrument
