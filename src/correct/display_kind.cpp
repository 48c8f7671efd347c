#include "provenit/correct/display_kind.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <toml++/toml.h>

#include <algorithm>
#include <array>

#include "correct_assets.h"

namespace provenit::correct {
namespace {

constexpr std::array<std::string_view, 4> kShapes{"1d", "3x3_1d", "3d", "1d_3d"};
constexpr std::array<std::string_view, 3> kFiles{"cube", "clf", "icc"};
constexpr std::array<std::string_view, 8> kKeys{"id",       "title",      "tables", "sizes_1d",
                                                "sizes_3d", "entry_bits", "files",  "scale"};

/// One [[kind]] of the file, with what is needed to say where a fault is.
class Reader {
 public:
  Reader(const toml::table& table, const std::string& file) : table_(table), file_(file) {}

  Result<DisplayKind> read() const {
    for (const auto& [key, node] : table_)
      if (std::ranges::find(kKeys, key.str()) == kKeys.end())
        return refuse(key.str(), fmt::format("'{}' is no key of a kind", key.str()),
                      fmt::format("Known keys are {}.", fmt::join(kKeys, ", ")));
    DisplayKind kind;
    std::string scale;
    for (auto [key, text] : {std::pair{"id", &kind.id}, {"title", &kind.title}, {"scale", &scale}}) {
      const auto value = table_[key].value_exact<std::string>();
      if (!value || value->empty()) return refuse(key, "a kind needs a text here", "Put it between quotes.");
      *text = *value;
    }
    if (scale != "signal" && scale != "code")
      return refuse("scale", fmt::format("'{}' is no scale", scale), "Use signal or code.");
    kind.scale = scale == "code" ? Scale::code : Scale::signal;
    if (auto read = words("tables", kShapes, kind.tables); !read) return tl::unexpected(read.error());
    if (auto read = words("files", kFiles, kind.files); !read) return tl::unexpected(read.error());
    if (auto read = sizes("sizes_1d", kLargest1d, kind.sizes_1d); !read) return tl::unexpected(read.error());
    if (auto read = sizes("sizes_3d", kLargest3d, kind.sizes_3d); !read) return tl::unexpected(read.error());
    const auto bits = table_["entry_bits"].value_exact<std::int64_t>();
    if (!bits || (*bits != 0 && (*bits < 8 || *bits > 16)))
      return refuse("entry_bits", "entry_bits is not 0 and not 8 to 16", "Give the bits of the display's own entries.");
    kind.entry_bits = static_cast<int>(*bits);
    return kind;
  }

  [[nodiscard]] tl::unexpected<Error> refuse(std::string_view key, std::string message, std::string advice) const {
    const toml::node* node = table_.get(key);
    const auto& source = node != nullptr ? node->source() : table_.source();
    return fail(ErrorCode::invalid_input, std::move(message), std::move(advice),
                {.file = file_, .line = static_cast<int>(source.begin.line), .field = std::string(key)});
  }

 private:
  template <std::size_t n>
  Result<void> words(const char* key, const std::array<std::string_view, n>& known,
                     std::vector<std::string>& out) const {
    const auto* array = table_[key].as_array();
    const auto advice = fmt::format("List one or more of {}.", fmt::join(known, ", "));
    if (array == nullptr || array->empty()) return refuse(key, fmt::format("{} names nothing", key), advice);
    for (const toml::node& node : *array) {
      const auto word = node.value_exact<std::string>();
      if (!word || std::ranges::find(known, *word) == known.end())
        return refuse(key, fmt::format("{} has an unknown word", key), advice);
      out.push_back(*word);
    }
    return {};
  }
  Result<void> sizes(const char* key, int largest, std::vector<int>& out) const {
    const auto* array = table_[key].as_array();
    const auto advice = fmt::format("List counts from {} to {}, or nothing: [].", kSmallestTable, largest);
    if (array == nullptr) return refuse(key, fmt::format("{} is no list", key), advice);
    for (const toml::node& node : *array) {
      const auto size = node.value_exact<std::int64_t>();
      if (!size || *size < kSmallestTable || *size > largest)
        return refuse(key, fmt::format("{} has a size that no table has", key), advice);
      out.push_back(static_cast<int>(*size));
    }
    return {};
  }

  const toml::table& table_;
  const std::string& file_;
};

bool takes(const std::vector<int>& sizes, int size) {
  return std::ranges::find(sizes, size) != sizes.end();
}

tl::unexpected<Error> not_taken(const DisplayKind& kind, const std::string& what, const std::string& advice) {
  return fail(ErrorCode::unsupported, fmt::format("the kind '{}' does not take {}", kind.id, what), advice);
}

/// The outer tables decide: a 1D table behind a matrix or lattice has the same size limits as one before it.
Result<void> check_sizes(const Lut& lut, const DisplayKind& kind) {
  for (const Stage& stage : lut.stages) {
    if (const auto* table = std::get_if<Lut1d>(&stage); table != nullptr && !takes(kind.sizes_1d, table->size()))
      return not_taken(kind, fmt::format("1D tables of {} entries", table->size()),
                       fmt::format("Solve for one of these sizes: {}.", fmt::join(kind.sizes_1d, ", ")));
    if (const auto* lattice = std::get_if<Lut3d>(&stage); lattice != nullptr && !takes(kind.sizes_3d, lattice->size))
      return not_taken(kind, fmt::format("3D tables of {} nodes", lattice->size),
                       fmt::format("Solve for one of these sizes: {}.", fmt::join(kind.sizes_3d, ", ")));
  }
  return {};
}

}  // namespace

std::string shape_of(const Lut& lut) {
  const auto& s = lut.stages;
  const auto curves = [&](std::size_t i) { return std::holds_alternative<Lut1d>(s[i]); };
  const auto lattice = [&](std::size_t i) { return std::holds_alternative<Lut3d>(s[i]); };
  if (s.size() == 1 && curves(0)) return "1d";
  if (s.size() == 1 && lattice(0)) return "3d";
  if (s.size() == 2 && curves(0) && lattice(1)) return "1d_3d";
  if (s.size() == 3 && curves(0) && std::holds_alternative<Affine>(s[1]) && curves(2)) return "3x3_1d";
  return "";
}

Result<std::vector<DisplayKind>> display_kinds_from(std::string_view text, const std::string& file) {
  toml::table root;
  try {
    root = toml::parse(text);
  } catch (const toml::parse_error& fault) {
    return fail(ErrorCode::invalid_input, std::string(fault.description()), "Correct the file's TOML.",
                {.file = file, .line = static_cast<int>(fault.source().begin.line)});
  }
  std::vector<DisplayKind> kinds;
  const auto* array = root["kind"].as_array();
  if (array == nullptr || root.size() != 1)
    return fail(ErrorCode::invalid_input, "a file of kinds has [[kind]] tables and nothing else",
                "See data/corrections/display-kinds.toml.", {.file = file});
  for (const toml::node& node : *array) {
    if (!node.is_table()) return fail(ErrorCode::invalid_input, "a kind is a table", "Write [[kind]].", {.file = file});
    const Reader reader(*node.as_table(), file);
    auto kind = reader.read();
    if (!kind) return tl::unexpected(kind.error());
    if (std::ranges::find(kinds, kind->id, &DisplayKind::id) != kinds.end())
      return reader.refuse("id", fmt::format("'{}' stands there twice", kind->id), "Give each kind an id of its own.");
    kinds.push_back(std::move(*kind));
  }
  return kinds;
}

const std::vector<DisplayKind>& display_kinds() {
  static const std::vector<DisplayKind> kinds =
      display_kinds_from(find_correct_asset("/display-kinds.toml"), "display-kinds.toml")
          .value_or(std::vector<DisplayKind>());
  return kinds;
}

Result<DisplayKind> find_kind(const std::vector<DisplayKind>& kinds, std::string_view id) {
  const auto found = std::ranges::find(kinds, id, &DisplayKind::id);
  if (found != kinds.end()) return *found;
  std::vector<std::string> ids;
  for (const DisplayKind& kind : kinds) ids.push_back(kind.id);
  return fail(ErrorCode::not_found, fmt::format("there is no kind of display '{}'", id),
              fmt::format("Use one of {}.", fmt::join(ids, ", ")));
}

Result<Lut> fitted(const Lut& lut, const DisplayKind& kind) {
  if (auto valid = validate(lut); !valid) return tl::unexpected(valid.error());
  const std::string shape = shape_of(lut);
  if (std::ranges::find(kind.tables, shape) == kind.tables.end())
    return not_taken(kind, shape.empty() ? "these stages" : fmt::format("a table of the shape {}", shape),
                     fmt::format("Solve for one of these shapes: {}.", fmt::join(kind.tables, ", ")));
  if (auto checked = check_sizes(lut, kind); !checked) return tl::unexpected(checked.error());
  for (const auto* values : {&lut.input, &lut.output})
    if (*values && (*values)->scale != kind.scale && (*values)->encoding.range != signal::Range::full)
      return not_taken(kind, "numbers of this scale",
                       fmt::format("Solve for the scale '{}'.", kind.scale == Scale::code ? "code" : "signal"));
  return kind.entry_bits == 0 ? lut : rounded(lut, kind.entry_bits);
}

}  // namespace provenit::correct
