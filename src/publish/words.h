#pragma once
// Figures, conditions and dates as a published page says them, and text inside markup.
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "provenit/base/clock.h"
#include "provenit/store/records.h"

namespace provenit::publish {

/// For text and attributes of HTML and SVG.
[[nodiscard]] std::string escaped(std::string_view text);

/// With a true minus sign and, from five digits on, groups of three. Negative `decimals` round to tens, hundreds.
[[nodiscard]] std::string number_text(double value, int decimals);
/// As many digits as the number has, ten at most.
[[nodiscard]] std::string given_text(double value);

struct FigureWords {
  std::string value;     ///< "1431"; digits follow the interval: two significant ones of its half width
  std::string interval;  ///< "1401 to 1461"
  std::string unit;      ///< "cd/m\u00b2"; empty for plain numbers
  [[nodiscard]] std::string with_unit() const;
  [[nodiscard]] std::string whole() const;  ///< "1431 cd/m\u00b2 (1401 to 1461)"
};
[[nodiscard]] FigureWords figure_words(double value, double lower95, double upper95, const std::string& unit,
                                       const std::string& quantity = {});
[[nodiscard]] FigureWords figure_words(const store::FindingRecord& finding);
[[nodiscard]] std::string unit_words(const std::string& unit, const std::string& quantity = {});

/// "10 % window", "30\u00b0 right"; empty if there are none.
[[nodiscard]] std::string condition_words(const nlohmann::json& conditions);
/// The catalogue's title with typographic signs; the key if the catalogue has none.
[[nodiscard]] std::string quantity_words(const std::string& quantity);
/// Both: "Peak luminance, 10 % window".
[[nodiscard]] std::string subject_words(const std::string& quantity, const nlohmann::json& conditions);
/// "at least 1000 cd/m\u00b2", "0 to 0.005 cd/m\u00b2"; "open" without a limit.
[[nodiscard]] std::string limit_words(std::optional<double> lower, std::optional<double> upper, const std::string& unit,
                                      const std::string& quantity);
/// "24 November 2026", UTC.
[[nodiscard]] std::string date_words(Timestamp time);
/// Signs for what the catalogue writes in ASCII: u\u2032v\u2032, \u0394, cd/m\u00b2.
[[nodiscard]] std::string signs(std::string text);

/// A name for files and addresses: lower-case letters, digits and hyphens; "display" if nothing is left.
[[nodiscard]] std::string slug_of(std::string_view name);

}  // namespace provenit::publish
