#pragma once
// Two findings of one quantity: of two displays, two modes or two runs.
#include <string>

#include "provenit/base/error.h"
#include "provenit/colour/statistics.h"
#include "provenit/store/records.h"

namespace provenit::evaluation {

enum class Outcome { a_higher, b_higher, no_difference_shown };

struct Comparison {
  double difference = 0;  ///< a - b, in the quantity's unit
  double standard_uncertainty = 0;
  colour::Interval interval;  ///< 95 %
  Outcome outcome = Outcome::no_difference_shown;
  /// Share of the two variances' sum that is common to both findings and cancels; 0 for different instruments.
  double cancelled = 0;
  std::string text;  ///< for people, with the names given
};

struct ComparisonNames {
  std::string a = "A", b = "B";
};

/// Difference of two findings. With the same instrument and certificate its scale, chromaticity and zero errors are the
/// same in both and cancel as far as both depend on them (findings carry that dependence by source, as
/// parts.contributions). The interval is a t-interval with the two findings' degrees of freedom combined. when not  for
/// lengths near 0 (Delta E, Delta u'v') the dependence is not linear and the interval is approximate; the
///           text says so
/// errors  invalid_input if quantity, unit or conditions differ, or an uncertainty is not finite (a contrast without an
///         upper end)
/// source  JCGM 100:2008, 5.2.2 (covariance of two results that share an input), F.1.2.3
[[nodiscard]] Result<Comparison> compare(const store::FindingRecord& a, const store::FindingRecord& b,
                                         bool same_instrument, const ComparisonNames& names = {});

}  // namespace provenit::evaluation
