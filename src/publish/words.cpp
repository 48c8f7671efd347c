#include "words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/shelf/item.h"

namespace provenit::publish {
namespace {

struct Word {
  std::string_view key, word;
};
constexpr std::array kWords{Word{"bt709", "BT.709"},
                            Word{"p3_d65", "P3-D65"},
                            Word{"bt2020", "BT.2020"},
                            Word{"uv", "u\u2032v\u2032"},
                            Word{"ictcp", "ICtCp"},
                            Word{"cielab", "CIELAB"},
                            Word{"as_found", "as found"},
                            Word{"cie1931_2deg", "CIE 1931, 2\u00b0"},
                            Word{"cie1964_10deg", "CIE 1964, 10\u00b0"},
                            Word{"cie2015_2deg", "CIE 2015, 2\u00b0"},
                            Word{"cie2015_10deg", "CIE 2015, 10\u00b0"}};

/// What stands before and after the value of a condition.
struct Around {
  std::string_view key, before, after;
};
constexpr std::array kAround{Around{"window_percent", "", "\u00a0% window"},
                             Around{"tolerance_percent", "within ", "\u00a0%"},
                             Around{"distance_percent", "", "\u00a0% of the width away"},
                             Around{"minutes", "after ", "\u00a0min"},
                             Around{"after_s", "after ", "\u00a0s"},
                             Around{"level_cdm2", "at ", "\u00a0cd/m\u00b2"},
                             Around{"points", "", " points"},
                             Around{"band", "", " frequencies"},
                             Around{"cycles_per_pixel", "at ", " cycles per pixel"},
                             Around{"lines", "", " lines"},
                             Around{"line_pixels", "", "\u00a0px wide"},
                             Around{"pixels", "", "\u00a0px"},
                             Around{"local_dimming", "local dimming ", ""}};
constexpr std::array<std::string_view, 7> kAlone{"reference", "plane",    "primary", "space",
                                                 "colour",    "observer", "region"};

std::string value_word(const nlohmann::json& value) {
  if (value.is_number()) return given_text(value.get<double>());
  const auto text = value.is_string() ? value.get<std::string>() : value.dump();
  const auto* found = std::ranges::find(kWords, text, &Word::key);
  return found == kWords.end() ? text : std::string(found->word);
}

std::string one_condition(const std::string& key, const nlohmann::json& value, const nlohmann::json& all) {
  auto word = value_word(value);
  if (const auto* around = std::ranges::find(kAround, key, &Around::key); around != kAround.end())
    return fmt::format("{}{}{}", around->before, word, around->after);
  if (std::ranges::find(kAlone, key) != kAlone.end()) return word;
  if (key == "angle_deg")
    return word + "\u00b0" + (all.contains("direction") ? " " + value_word(all["direction"]) : "");
  if (key == "direction") return all.contains("angle_deg") ? std::string{} : word;
  if (key == "columns")
    return fmt::format("{} \u00d7 {} squares", word, value_word(all.value("rows", nlohmann::json("?"))));
  if (key == "rows") return {};
  if (key == "axis") return word == "columns" ? "along the width" : "along the height";
  auto plain = key;
  std::ranges::replace(plain, '_', ' ');
  return plain + ' ' + word;
}

/// Decimals that show two significant digits of `size`.
int decimals_of(double size) {
  if (!(size > 0) || !std::isfinite(size)) return 3;
  const double rounded = std::stod(fmt::format("{:.1e}", size));  // 0.0996 shows as 0.10
  return std::min(9, 1 - static_cast<int>(std::floor(std::log10(rounded))));
}

std::string replaced(std::string text, std::string_view what, std::string_view with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size()))
    text.replace(at, what.size(), with);
  return text;
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (const char c : text) switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  return out;
}

std::string number_text(double value, int decimals) {
  const double coarse = std::pow(10.0, std::max(0, -decimals));
  const double rounded = decimals < 0 ? std::round(value / coarse) * coarse : value;
  auto text = fmt::format("{:.{}f}", std::abs(rounded), std::clamp(decimals, 0, 20));
  const bool zero = text.find_first_not_of("0.") == std::string::npos;
  const auto point = std::min(text.find('.'), text.size());
  constexpr std::size_t kGroup = 3, kUngrouped = 4;
  if (point > kUngrouped)
    for (std::size_t at = point; at > kGroup;) text.insert(at -= kGroup, "\u202f");
  return (value < 0 && !zero ? "\u2212" : "") + text;
}

std::string given_text(double value) {
  auto text = fmt::format("{:.10g}", value);
  if (text.find('e') != std::string::npos) return text;
  const auto point = text.find('.');
  return number_text(value, point == std::string::npos ? 0 : static_cast<int>(text.size() - point - 1));
}

std::string FigureWords::with_unit() const {
  return unit.empty() ? value : value + "\u00a0" + unit;
}
std::string FigureWords::whole() const {
  return fmt::format("{} ({})", with_unit(), interval);
}

FigureWords figure_words(double value, double lower, double upper, const std::string& unit,
                         const std::string& quantity) {
  const auto whole = [](double v) { return v == std::round(v); };
  const bool low = std::isfinite(lower), high = std::isfinite(upper);
  const bool count = low && high && whole(value) && whole(lower) && whole(upper);
  double half = 0;
  if (low && high)
    half = (upper - lower) / 2;
  else if (low)
    half = value - lower;
  else if (high)
    half = upper - value;
  int decimals = half > 0 ? decimals_of(half) : decimals_of(std::abs(value) / 100);
  if (count) decimals = 0;
  const auto text = [&](double v) { return number_text(v, decimals); };
  FigureWords out{.value = text(value), .interval = {}, .unit = unit_words(unit, quantity)};
  if (count && lower == upper)
    out.interval = text(lower);
  else if (low && high)
    out.interval = text(lower) + " to " + text(upper);
  else if (low)
    out.interval = "at least " + text(lower);
  else if (high)
    out.interval = "at most " + text(upper);
  else
    out.interval = "not bounded";
  return out;
}

FigureWords figure_words(const store::FindingRecord& f) {
  return figure_words(f.value, f.lower95, f.upper95, f.unit, f.quantity);
}

std::string unit_words(const std::string& unit, const std::string& quantity) {
  if (quantity == "sequential_contrast" || quantity == "checkerboard_contrast") return ":\u00a01";
  return unit == "1" ? std::string{} : signs(unit);
}

std::string condition_words(const nlohmann::json& conditions) {
  std::string out;
  for (const auto& [key, value] : conditions.items()) {
    const auto part = one_condition(key, value, conditions);
    if (!part.empty()) out += (out.empty() ? "" : ", ") + part;
  }
  return out;
}

std::string quantity_words(const std::string& quantity) {
  const auto* known = procedure::find_quantity(quantity);
  return known == nullptr ? quantity : signs(std::string(known->title));
}

std::string subject_words(const std::string& quantity, const nlohmann::json& conditions) {
  const auto more = condition_words(conditions);
  return quantity_words(quantity) + (more.empty() ? "" : ", " + more);
}

std::string limit_words(std::optional<double> lower, std::optional<double> upper, const std::string& unit,
                        const std::string& quantity) {
  const auto sign = unit_words(unit, quantity);
  const auto text = [&](double v) { return given_text(v) + (sign.empty() ? "" : "\u00a0" + sign); };
  if (lower && upper) return text(*lower) + " to " + text(*upper);
  if (lower) return "at least " + text(*lower);
  return upper ? "at most " + text(*upper) : "open";
}

std::string date_words(Timestamp time) {
  constexpr std::array months{"January", "February", "March",     "April",   "May",      "June",
                              "July",    "August",   "September", "October", "November", "December"};
  const auto day = shelf::day_of(time);  // 2026-11-24
  const auto parts = split(day, '-');
  return fmt::format("{} {} {}", parse_integer(parts[2]).value_or(1),
                     months.at(static_cast<std::size_t>(parse_integer(parts[1]).value_or(1) - 1)), parts[0]);
}

std::string signs(std::string text) {
  text = replaced(std::move(text), "u'v'", "u\u2032v\u2032");
  text = replaced(std::move(text), "u'", "u\u2032");
  text = replaced(std::move(text), "v'", "v\u2032");
  text = replaced(std::move(text), "Delta ", "\u0394");
  return replaced(std::move(text), "cd/m2", "cd/m\u00b2");
}

std::string slug_of(std::string_view name) {
  std::string out;
  for (const char c : name) {
    const char small = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    if ((small >= 'a' && small <= 'z') || (small >= '0' && small <= '9'))
      out += small;
    else if (!out.empty() && out.back() != '-')
      out += '-';
  }
  while (!out.empty() && out.back() == '-') out.pop_back();
  return out.empty() ? "display" : out;
}

}  // namespace provenit::publish
