#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "files/entries.h"
#include "provenit/base/text.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

std::vector<std::string_view> words_of(std::string_view line) {
  std::vector<std::string_view> words;
  constexpr const char* blank = " \t\r";
  for (std::size_t begin = line.find_first_not_of(blank); begin != std::string_view::npos;) {
    const std::size_t end = std::min(line.find_first_of(blank, begin), line.size());
    words.push_back(line.substr(begin, end - begin));
    begin = line.find_first_not_of(blank, end);
  }
  return words;
}

class CubeReader {
 public:
  CubeReader(std::string_view text, const std::string& file) : text_(text), file_(file) {}

  Result<Lut> read() {
    while (!text_.empty()) {
      ++line_;
      const std::size_t end = std::min(text_.find('\n'), text_.size());
      const std::string_view line = trim(text_.substr(0, end));
      text_.remove_prefix(std::min(end + 1, text_.size()));
      if (auto taken = take(line); !taken) return tl::unexpected(taken.error());
    }
    return finished();
  }

 private:
  [[nodiscard]] tl::unexpected<Error> refuse(std::string message, int line) const {
    return fail(ErrorCode::invalid_input, std::move(message), "Nothing was taken from the file.",
                {.file = file_, .line = line});
  }
  [[nodiscard]] tl::unexpected<Error> refuse(std::string message) const { return refuse(std::move(message), line_); }

  Result<void> take(std::string_view line) {
    if (line.empty()) return {};
    if (line.front() == '#') {
      comment(trim(line.substr(1)));
      return {};
    }
    if (line.starts_with("TITLE")) return title(trim(line.substr(5)));
    const auto words = words_of(line);
    if ((line.front() >= 'A' && line.front() <= 'Z')) return keyword(words);
    return entry(words);
  }

  void comment(std::string_view text) {
    const auto after = [&](std::string_view start) -> std::string_view {
      return text.starts_with(start) ? trim(text.substr(start.size())) : std::string_view();
    };
    if (const auto title = after("Title:"); !title.empty()) lut_.title = title;
    if (auto values = values_from_text(after("Input:"))) lut_.input = values;
    if (auto values = values_from_text(after("Output:"))) lut_.output = values;
    for (const bool curves : {true, false}) {
      const auto words = words_of(after(curves ? "1D entries:" : "3D entries:"));
      if (words.size() != 2 || words[1] != "bits") continue;
      const auto bits = parse_integer(words[0]);
      if (bits && *bits >= 8 && *bits <= 16) (curves ? curve_bits_ : lattice_bits_) = static_cast<int>(*bits);
    }
  }

  Result<void> title(std::string_view text) {
    if (text.size() < 2 || text.front() != '"' || text.back() != '"') return refuse("TITLE has no text in quotes");
    lut_.title = text.substr(1, text.size() - 2);
    return {};
  }

  Result<void> keyword(const std::vector<std::string_view>& words) {
    const std::string name(words[0]);
    static const std::map<std::string, std::size_t, std::less<>> numbers{
        {"LUT_1D_SIZE", 1}, {"LUT_3D_SIZE", 1},        {"DOMAIN_MIN", 3},
        {"DOMAIN_MAX", 3},  {"LUT_1D_INPUT_RANGE", 2}, {"LUT_3D_INPUT_RANGE", 2}};
    const auto known = numbers.find(name);
    if (known == numbers.end()) return refuse(fmt::format("'{}' is no keyword of a .cube file", name.substr(0, 40)));
    if (!entries_.empty()) return refuse(fmt::format("{} stands after the first entry", name));
    if (keywords_.contains(name)) return refuse(fmt::format("{} stands there twice", name));
    if (words.size() != known->second + 1) return refuse(fmt::format("{} needs {} numbers", name, known->second));
    auto& values = keywords_[name];
    for (std::size_t i = 1; i < words.size(); ++i) {
      const auto value = parse_double(words[i]);
      if (!value) return refuse(fmt::format("'{}' is not a number", words[i].substr(0, 40)));
      values.push_back(*value);
    }
    return name.ends_with("SIZE") ? size(name, words[1]) : Result<void>{};
  }
  Result<void> size(const std::string& name, std::string_view word) {
    const bool curves = name == "LUT_1D_SIZE";
    const int largest = curves ? kLargest1d : kLargest3d;
    const auto n = parse_integer(word);
    if (!n || *n < kSmallestTable || *n > largest)
      return refuse(fmt::format("{} is {}, where {} to {} are possible", name, word, kSmallestTable, largest));
    (curves ? curve_size_ : lattice_size_) = static_cast<int>(*n);
    return {};
  }

  [[nodiscard]] std::size_t lattice_entries() const {
    return static_cast<std::size_t>(lattice_size_) * lattice_size_ * lattice_size_;
  }

  Result<void> entry(const std::vector<std::string_view>& words) {
    if (words.size() != 3) return refuse(fmt::format("an entry has three numbers, this one {}", words.size()));
    if (curve_size_ == 0 && lattice_size_ == 0) return refuse("an entry stands before LUT_1D_SIZE or LUT_3D_SIZE");
    if (entries_.size() == curve_size_ + lattice_entries())
      return refuse(fmt::format("there are more than the {} entries that its size asks for", entries_.size()));
    Triple v{};
    for (std::size_t c = 0; c < 3; ++c) {
      const auto value = parse_double(words[c]);
      if (!value) return refuse(fmt::format("'{}' is not a finite number", words[c].substr(0, 40)));
      v[c] = *value;
    }
    entries_.push_back(v);
    return {};
  }

  Result<void> domain(const std::string& low_name, const std::string& high_name) {
    const auto low = keywords_.contains(low_name) ? keywords_[low_name] : std::vector<double>{0, 0, 0};
    const auto high = keywords_.contains(high_name) ? keywords_[high_name] : std::vector<double>{1, 1, 1};
    Affine a;
    for (std::size_t c = 0; c < 3; ++c) {
      const double span = high[c] - low[c];
      if (!(span > 0)) return refuse("the domain has a minimum that is not below its maximum");
      a.matrix(c, c) = 1 / span;
      a.offset[c] = -low[c] / span;
    }
    if (low != std::vector<double>{0, 0, 0} || high != std::vector<double>{1, 1, 1}) lut_.stages.emplace_back(a);
    return {};
  }
  Result<void> input_range(const std::string& name) {
    if (!keywords_.contains(name)) return {};
    const double low = keywords_[name][0], high = keywords_[name][1];
    keywords_["low"] = {low, low, low};
    keywords_["high"] = {high, high, high};
    return domain("low", "high");
  }

  Result<Lut> finished() {
    if (curve_size_ == 0 && lattice_size_ == 0) return refuse("there is neither LUT_1D_SIZE nor LUT_3D_SIZE");
    const std::size_t expected = curve_size_ + lattice_entries();
    if (entries_.size() != expected)
      return refuse(fmt::format("the file ends after {} of {} entries", entries_.size(), expected));
    const bool by_domain = keywords_.contains("DOMAIN_MIN") || keywords_.contains("DOMAIN_MAX");
    const bool by_range = keywords_.contains("LUT_1D_INPUT_RANGE") || keywords_.contains("LUT_3D_INPUT_RANGE");
    if (by_domain && (by_range || (curve_size_ != 0 && lattice_size_ != 0)))
      return refuse("DOMAIN belongs to files with one table, INPUT_RANGE to files with two; both are there");
    if (auto placed = domain("DOMAIN_MIN", "DOMAIN_MAX"); !placed) return tl::unexpected(placed.error());
    if (curve_size_ != 0) {
      if (auto placed = input_range("LUT_1D_INPUT_RANGE"); !placed) return tl::unexpected(placed.error());
      lut_.stages.emplace_back(curves());
    }
    if (lattice_size_ != 0) {
      if (auto placed = input_range("LUT_3D_INPUT_RANGE"); !placed) return tl::unexpected(placed.error());
      lut_.stages.emplace_back(lattice());
    }
    if (auto valid = validate(lut_); !valid) return refuse(valid.error().message);
    return std::move(lut_);
  }
  [[nodiscard]] Lut1d curves() const {
    Lut1d table;
    for (int i = 0; i < curve_size_; ++i)
      for (std::size_t c = 0; c < 3; ++c) table.channel[c].push_back(entries_[i][c]);
    if (curve_bits_ != 0) static_cast<void>(files::snap_to_codes(table, curve_bits_));
    return table;
  }
  [[nodiscard]] Lut3d lattice() const {
    Lut3d table{.size = lattice_size_, .nodes = std::vector<Triple>(lattice_entries())};
    auto entry = entries_.begin() + curve_size_;
    for (int b = 0; b < lattice_size_; ++b)
      for (int g = 0; g < lattice_size_; ++g)
        for (int r = 0; r < lattice_size_; ++r) table.node(r, g, b) = *entry++;
    if (lattice_bits_ != 0) static_cast<void>(files::snap_to_codes(table, lattice_bits_));
    return table;
  }

  std::string_view text_;
  const std::string& file_;
  int line_ = 0;
  Lut lut_;
  std::map<std::string, std::vector<double>, std::less<>> keywords_;
  std::vector<Triple> entries_;
  int curve_size_ = 0, lattice_size_ = 0, curve_bits_ = 0, lattice_bits_ = 0;
};

}  // namespace

Result<Lut> lut_from_cube(std::string_view text, const std::string& file) {
  return CubeReader(text, file).read();
}

}  // namespace provenit::correct
