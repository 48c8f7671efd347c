#include "output.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace provenit::cli {
namespace {

/// Characters shown, counting a UTF-8 sequence once.
std::size_t width(const std::string& text) {
  return static_cast<std::size_t>(
      std::ranges::count_if(text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

}  // namespace

std::string Table::text() const {
  std::vector<std::size_t> widths(heads_.size());
  for (std::size_t c = 0; c < heads_.size(); ++c) widths[c] = width(heads_[c]);
  for (const auto& row : rows_)
    for (std::size_t c = 0; c < row.size() && c < widths.size(); ++c) widths[c] = std::max(widths[c], width(row[c]));
  std::string out;
  const auto line = [&](const std::vector<std::string>& cells) {
    std::string text;
    for (std::size_t c = 0; c < cells.size(); ++c) {
      text += cells[c];
      if (c + 1 < cells.size()) text += std::string(widths[c] - width(cells[c]) + 2, ' ');
    }
    out += text.substr(0, text.find_last_not_of(' ') + 1) + '\n';
  };
  line(heads_);
  std::vector<std::string> rule;
  for (const auto w : widths) rule.emplace_back(w, '-');
  line(rule);
  for (const auto& row : rows_) line(row);
  return out;
}

void Output::say(const std::string& text, const nlohmann::ordered_json& document) const {
  if (json)
    fmt::print("{}\n", document.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace));
  else
    fmt::print("{}{}", text, text.empty() || text.back() == '\n' ? "" : "\n");
  std::fflush(stdout);
}

int Output::fail(const Error& error) const {
  if (json) {
    nlohmann::ordered_json where = nlohmann::ordered_json::object();
    if (!error.where.file.empty()) where["file"] = error.where.file;
    if (error.where.line > 0) where["line"] = error.where.line;
    if (error.where.frame >= 0) where["frame"] = error.where.frame;
    if (error.where.reading >= 0) where["reading"] = error.where.reading;
    if (!error.where.field.empty()) where["field"] = error.where.field;
    say({},
        {{"error",
          {{"code", name_of(error.code)}, {"message", error.message}, {"advice", error.advice}, {"where", where}}}});
  }
  fmt::print(stderr, "provenit: {}\n", error.text());
  switch (error.code) {
    case ErrorCode::timeout:
    case ErrorCode::instrument:
    case ErrorCode::io:
    case ErrorCode::cancelled:
      return kStopped;
    default:
      return kRefused;
  }
}

std::string rounded(double value, double standard_uncertainty) {
  if (!std::isfinite(value)) return "-";
  if (!(standard_uncertainty > 0) || !std::isfinite(standard_uncertainty)) return fmt::format("{:.6g}", value);
  // Two significant digits of the uncertainty (JCGM 100:2008, 7.2.6).
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(standard_uncertainty))), 0, 9);
  return fmt::format("{:.{}f}", value, decimals);
}

FigureText figure_text(double value, double lower, double upper, double standard_uncertainty) {
  const auto whole = [](double v) { return v == std::round(v); };  // an open end is: it prints as "-"
  const bool count = whole(value) && whole(lower) && whole(upper);
  const auto text = [&](double v) {
    return count && std::isfinite(v) ? fmt::format("{:.0f}", v) : rounded(v, standard_uncertainty);
  };
  return {text(value), count && lower == upper ? text(lower) : text(lower) + " to " + text(upper)};
}

std::string duration_text(double seconds) {
  const auto total = static_cast<long long>(std::llround(std::max(0.0, seconds)));
  const long long h = total / 3600, min = total / 60 % 60, s = total % 60;
  if (h > 0) return fmt::format("{} h {:02d} min", h, min);
  if (min > 0) return fmt::format("{} min {:02d} s", min, s);
  return fmt::format("{} s", s);
}

}  // namespace provenit::cli
