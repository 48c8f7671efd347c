#include "provenit/evaluation/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "provenit/evaluation/measurement_model.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

using store::FindingRecord;
using store::QuestionRecord;
using store::Verdict;

constexpr double kInfinite = std::numeric_limits<double>::infinity();

struct Limits {
  double lower = -kInfinite, upper = kInfinite;
  [[nodiscard]] bool any() const { return std::isfinite(lower) || std::isfinite(upper); }
};

Limits limits_of(const QuestionRecord& q) {
  Limits limits;
  const bool low = q.comparison == store::Comparison::at_least || q.comparison == store::Comparison::within;
  const bool high = q.comparison == store::Comparison::at_most || q.comparison == store::Comparison::within;
  if (low && q.lower) limits.lower = *q.lower;
  if (high && q.upper) limits.upper = *q.upper;
  return limits;
}

bool same_condition(const nlohmann::json& a, const nlohmann::json& b) {
  if (a.is_number() && b.is_number()) return a.get<double>() == b.get<double>();
  return a == b;
}

Verdict judge(const FindingRecord& f, const Limits& limits) {
  if (f.lower95 >= limits.lower && f.upper95 <= limits.upper) return Verdict::meets;
  if (f.upper95 < limits.lower || f.lower95 > limits.upper) return Verdict::fails;
  return Verdict::undecided;
}

struct DifferencePart {
  const char* name;
  double value = 0, lower = 0, upper = 0;
};

// "luminance part" or "chromaticity part" of a Delta E; empty for a finding without such parts.
std::string deciding_part(const FindingRecord& f, Verdict verdict) {
  if (!f.parts.contains("luminance") || !f.parts.contains("chromaticity")) return {};
  const auto part = [&](const char* key, const char* name) {
    const auto& p = f.parts[key];
    return DifferencePart{name, p.value("value", 0.0), p.value("lower95", 0.0), p.value("upper95", 0.0)};
  };
  const auto light = part("luminance", "luminance part"), chroma = part("chromaticity", "chromaticity part");
  // Undecided: the part whose interval is wider keeps it so. Otherwise the larger part carries the difference.
  const bool by_light = verdict == Verdict::undecided ? light.upper - light.lower >= chroma.upper - chroma.lower
                                                      : light.value >= chroma.value;
  return by_light ? light.name : chroma.name;
}

std::string largest_source(const FindingRecord& f) {
  if (!f.parts.contains("variance") || f.parts["variance"].empty()) return f.dominant;
  return f.parts["variance"].front().value("source", f.dominant);
}

// Four significant digits, without a needless exponent.
std::string text_of_number(double v) {
  if (std::isinf(v)) return v > 0 ? "no upper end" : "no lower end";
  return std::fabs(v) >= 1000 && std::fabs(v) < 1e7 ? fmt::format("{:.0f}", v) : fmt::format("{:.4g}", v);
}

std::string with_unit(const std::string& text, const std::string& unit) {
  return unit.empty() || unit == "1" ? text : text + " " + unit;
}

std::string limit_text(const Limits& l, const std::string& unit) {
  if (!std::isfinite(l.upper)) return with_unit("at least " + text_of_number(l.lower), unit);
  if (!std::isfinite(l.lower)) return with_unit("at most " + text_of_number(l.upper), unit);
  return with_unit(fmt::format("from {} to {}", text_of_number(l.lower), text_of_number(l.upper)), unit);
}

const char* word_of(Verdict v) {
  return v == Verdict::meets ? "meets" : v == Verdict::fails ? "fails" : "undecided";
}

std::string text_of(const FindingRecord& f, const Limits& limits, Verdict verdict, const std::string& decides) {
  const auto* quantity = procedure::find_quantity(f.quantity);
  const std::string title = quantity == nullptr ? f.quantity : std::string(quantity->title);
  std::string text =
      fmt::format("{} is {}, 95 % interval {} to {}; wanted {}: {}.", title, with_unit(text_of_number(f.value), f.unit),
                  text_of_number(f.lower95), text_of_number(f.upper95), limit_text(limits, f.unit), word_of(verdict));
  if (f.parts.contains("luminance") && f.parts.contains("chromaticity"))
    text += fmt::format(" Luminance alone makes {}, chromaticity alone {}.",
                        text_of_number(f.parts["luminance"].value("value", 0.0)),
                        text_of_number(f.parts["chromaticity"].value("value", 0.0)));
  if (verdict == Verdict::undecided)
    text += fmt::format(" What keeps it undecided: {}; largest source: {}.", decides, f.dominant);
  else if (!decides.empty())
    text += fmt::format(" What decides: {}.", decides);
  return text;
}

}  // namespace

bool answers(const FindingRecord& finding, const QuestionRecord& question) {
  if (finding.quantity != question.quantity) return false;
  if (!question.conditions.is_object()) return question.conditions.is_null();
  for (const auto& [key, wanted] : question.conditions.items())
    if (!finding.conditions.contains(key) || !same_condition(finding.conditions[key], wanted)) return false;
  return true;
}

std::optional<store::VerdictRecord> verdict(const FindingRecord& finding, const QuestionRecord& question) {
  const Limits limits = limits_of(question);
  if (!limits.any()) return std::nullopt;
  store::VerdictRecord v;
  v.verdict = judge(finding, limits);
  v.margin = std::min(finding.value - limits.lower, limits.upper - finding.value);
  const std::string part = deciding_part(finding, v.verdict);
  v.decides = part.empty() ? largest_source(finding) : part;
  v.text = text_of(finding, limits, v.verdict, v.decides);
  return v;
}

}  // namespace provenit::evaluation
