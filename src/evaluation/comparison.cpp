#include "provenit/evaluation/comparison.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

using store::FindingRecord;

double degrees_of_freedom(const FindingRecord& f) {
  const auto found = f.parts.find("degrees_of_freedom");
  return found != f.parts.end() && found->is_number() ? found->get<double>() : std::numeric_limits<double>::infinity();
}

// Covariance through the instrument's errors: sum of products of what each contributes to either finding.
double shared_covariance(const FindingRecord& a, const FindingRecord& b) {
  double sum = 0;
  if (!a.parts.contains("contributions") || !b.parts.contains("contributions")) return 0;
  for (const auto& [key, value] : a.parts["contributions"].items())
    if (value.is_number()) sum += value.get<double>() * b.parts["contributions"].value(key, 0.0);
  return sum;
}

bool is_length(const FindingRecord& f) {
  return f.parts.contains("as_read") && f.interval_method.starts_with("Monte Carlo");
}

Result<void> check(const FindingRecord& a, const FindingRecord& b) {
  const auto refuse = [](std::string what, const char* advice) {
    return fail(ErrorCode::invalid_input, std::move(what), advice);
  };
  if (a.quantity != b.quantity || a.unit != b.unit)
    return refuse(fmt::format("'{}' in {} cannot be compared with '{}' in {}", a.quantity, a.unit, b.quantity, b.unit),
                  "Compare findings of one quantity.");
  if (a.conditions != b.conditions)
    return refuse(
        fmt::format("{} under {} cannot be compared with {}", a.quantity, a.conditions.dump(), b.conditions.dump()),
        "Compare findings taken under the same conditions.");
  for (const auto* f : {&a, &b})
    if (!std::isfinite(f->value) || !std::isfinite(f->standard_uncertainty))
      return refuse(fmt::format("a finding of {} has no finite uncertainty", f->quantity),
                    "Its denominator is not shown to differ from 0: read the dark part longer or more often.");
  return {};
}

std::string text_of(const Comparison& c, const FindingRecord& f, const ComparisonNames& names, bool approximate) {
  const auto* quantity = procedure::find_quantity(f.quantity);
  const std::string title = quantity == nullptr ? f.quantity : std::string(quantity->title);
  const std::string unit = f.unit == "1" ? "" : " " + f.unit;
  std::string text;
  if (c.outcome == Outcome::no_difference_shown) {
    text = fmt::format("{}: no difference between {} and {} is shown", title, names.a, names.b);
  } else {
    const bool a = c.outcome == Outcome::a_higher;
    text = fmt::format("{}: {} is higher than {}", title, a ? names.a : names.b, a ? names.b : names.a);
  }
  text += fmt::format(" ({} less {}: {:.4g}{}, 95 % interval {:.4g} to {:.4g}).", names.a, names.b, c.difference, unit,
                      c.interval.lower, c.interval.upper);
  if (c.cancelled >= 0.01)
    text += fmt::format(" Read with the same instrument: {:.0f} % of the variance is common and cancels.",
                        100 * c.cancelled);
  if (approximate) text += " Both are lengths: near zero this interval is approximate.";
  return text;
}

}  // namespace

Result<Comparison> compare(const FindingRecord& a, const FindingRecord& b, bool same_instrument,
                           const ComparisonNames& names) {
  if (auto ok = check(a, b); !ok) return tl::unexpected(ok.error());
  const double va = a.standard_uncertainty * a.standard_uncertainty;
  const double vb = b.standard_uncertainty * b.standard_uncertainty;
  const double shared = same_instrument ? shared_covariance(a, b) : 0;
  Comparison out;
  out.difference = a.value - b.value;
  // What is shared can at most remove all of it; sampled findings know their contributions only within noise.
  const double variance = std::max(va + vb - 2 * shared, 0.0);
  out.standard_uncertainty = std::sqrt(variance);
  out.cancelled = va + vb > 0 ? std::clamp(2 * shared / (va + vb), 0.0, 1.0) : 0;
  const double by_dof = va * va / degrees_of_freedom(a) + vb * vb / degrees_of_freedom(b);
  const double nu =
      by_dof > 0 ? (va + vb - 2 * shared) * (va + vb - 2 * shared) / by_dof : std::numeric_limits<double>::infinity();
  const double half = colour::student_factor(std::max(nu, 1.0)) * out.standard_uncertainty;
  out.interval = {out.difference - half, out.difference + half};
  if (out.interval.lower > 0) out.outcome = Outcome::a_higher;
  if (out.interval.upper < 0) out.outcome = Outcome::b_higher;
  out.text = text_of(out, a, names, is_length(a) || is_length(b));
  return out;
}

}  // namespace provenit::evaluation
