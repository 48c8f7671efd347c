// The reader's part for spectra, and for sets of primaries.
#include <fmt/format.h>

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/reflectance.h"
#include "reader.h"
#include "selfcheck_assets.h"

namespace provenit::selfcheck {
namespace {

struct NamedSpace {
  std::string_view name;
  colour::Primaries<> primaries;
};
constexpr NamedSpace kSpaces[] = {
    {"BT.709", colour::bt709_primaries},   {"sRGB", colour::bt709_primaries}, {"BT.2020", colour::bt2020_primaries},
    {"BT.2100", colour::bt2020_primaries}, {"P3", colour::p3_d65_primaries},  {"P3-D65", colour::p3_d65_primaries},
    {"P3-DCI", colour::p3_dci_primaries},
};

const NamedSpace* space_named(std::string_view name) {
  for (const auto& space : kSpaces)
    if (space.name == name) return &space;
  return nullptr;
}

/// The numbers in brackets of "name (1 2 3)"; the whole text if there is no bracket.
std::string_view inside_brackets(std::string_view text) {
  const auto open = text.find('('), close = text.rfind(')');
  if (open == std::string_view::npos || close == std::string_view::npos || close < open) return text;
  return text.substr(open + 1, close - open - 1);
}

/// Two columns, wavelength and value, on equal steps.
std::optional<colour::Spectrum> spectrum_in(std::string_view csv) {
  colour::Spectrum out;
  std::vector<double> wavelengths;
  for (auto line : split(csv, '\n')) {
    line = trim(line);
    if (line.empty() || line.front() == '#') continue;
    const auto cells = split(line, ',');
    if (cells.size() != 2) return std::nullopt;
    const auto nm = parse_double(cells[0]), value = parse_double(cells[1]);
    if (!nm || !value) {
      if (wavelengths.empty()) continue;  // the header
      return std::nullopt;
    }
    wavelengths.push_back(*nm);
    out.values.push_back(*value);
  }
  if (wavelengths.size() < 2) return std::nullopt;
  out.start_nm = wavelengths[0];
  out.step_nm = wavelengths[1] - wavelengths[0];
  for (int i = 0; i < out.size(); ++i)
    if (wavelengths[i] != out.wavelength_nm(i)) return std::nullopt;
  return out;
}

const colour::Spectrum kPlaceholder{380, 5, std::vector<double>(81, 1.0)};

}  // namespace

std::vector<colour::Xy<>> Reader::primaries(std::string_view key) {
  const auto value = text(key);
  std::vector<colour::Xy<>> out;
  if (const auto* named = space_named(value))
    return {named->primaries.red, named->primaries.green, named->primaries.blue};
  const auto v = parse_numbers(inside_brackets(value));
  if (!v || v->size() < 6 || v->size() % 2 != 0) {
    fail(key, fmt::format("'{}' is no set of primaries", value),
         "Give x y of red, green and blue (six numbers), with a name before them in brackets if you like.");
    return {colour::bt709_primaries.red, colour::bt709_primaries.green, colour::bt709_primaries.blue};
  }
  for (std::size_t i = 0; i < v->size(); i += 2) {
    if (!((*v)[i + 1] > 0)) fail(key, fmt::format("a primary cannot have y = {}", (*v)[i + 1]), "Give y above 0.");
    out.push_back({.x = (*v)[i], .y = (*v)[i + 1]});
  }
  return out;
}

colour::Primaries<> Reader::rgb_space(std::string_view key, std::string_view white_key) {
  const auto p = primaries(key);
  if (p.size() != 3) fail(key, fmt::format("{} primaries where three are needed", p.size()), "Give six numbers.");
  colour::Primaries<> out{.red = p[0], .green = p[1], .blue = p[2], .white = colour::d65_video};
  if (has(white_key)) {
    out.white = xy(white_key);
  } else {
    const auto value = text(key);
    const auto* named = space_named(trim(value.substr(0, value.find('('))));
    if (named == nullptr)
      fail(white_key, fmt::format("the input '{}' is missing", white_key), "Give the white's x y.");
    else
      out.white = named->primaries.white;
  }
  return out;
}

colour::Observer Reader::observer() {
  std::array<std::string_view, colour::kObservers.size()> names;
  for (std::size_t i = 0; i < names.size(); ++i) names[i] = colour::name_of(colour::kObservers[i]);
  return colour::kObservers[choice("observer", names)];
}

colour::Spectrum Reader::illuminant() {
  const auto name = text("illuminant");
  if (name.empty()) return kPlaceholder;
  auto found = colour::illuminant(name);
  if (found) return std::move(*found);
  fail("illuminant", found.error());
  return kPlaceholder;
}

colour::Spectrum Reader::reflectance(std::string_view key) {
  const auto name = text(key);
  if (name.empty()) return kPlaceholder;
  if (auto sample = colour::test_colour_sample(name)) return std::move(*sample);
  if (const auto file = find_selfcheck_asset(fmt::format("/{}", name)); !file.empty())
    if (auto spectrum = spectrum_in(file)) return std::move(*spectrum);
  fail(key, fmt::format("no reflectance is named '{}'", name),
       "Give TCS01 to TCS14, or a reference table of two columns, such as e308_sample.csv.");
  return kPlaceholder;
}

SummationNote Reader::summation() {
  SummationNote out;
  for (std::size_t i = 0; i < inputs_.notes.size(); ++i) {
    const std::string_view note = inputs_.notes[i];
    if (note_used_[i] || note.find("sum") == std::string_view::npos || note.find(" nm") == std::string_view::npos)
      continue;
    note_used_[i] = true;
    out.interpolated = note.find("interpolated") != std::string_view::npos;
    const auto words = split(note, ' ');
    for (std::size_t w = 1; w < words.size(); ++w) {
      if (words[w] != "nm") continue;
      if (const auto step = parse_double(words[w - 1])) {
        out.step_nm = *step;
        continue;
      }
      const auto ends = split(words[w - 1], '-');
      const auto first = ends.size() == 2 ? parse_double(ends[0]) : std::nullopt;
      const auto last = ends.size() == 2 ? parse_double(ends[1]) : std::nullopt;
      if (!first || !last) {
        fail("inputs", fmt::format("'{}' in '{}' is neither a step nor a range in nm", words[w - 1], note),
             "Write for example '5 nm summation 380-780 nm'.");
        return {.step_nm = 5};
      }
      out.range_nm = {*first, *last};
    }
  }
  if (out.step_nm > 0) return out;
  fail("inputs", "the row does not say how to sum", "Add for example '5 nm summation 380-780 nm'.");
  return {.step_nm = 5};
}

}  // namespace provenit::selfcheck
