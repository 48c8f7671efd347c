#pragma once
// Uncertainty by the law of propagation (GUM). A number carries its value and its derivatives to named sources of
// error, not one sigma: what two numbers have in common cancels in their ratio or difference, and x - x is exactly 0.
//
// Assumed: every source is an error of expectation 0; the function is near enough linear over the size of the errors.
// When to use: smooth functions, small relative uncertainties. When not: lengths near 0, maxima, clipped or negative
// light, areas: there use monte_carlo.h with the same sources.
//
// source  JCGM 100:2008 (GUM), 5.1, 5.2, G.4; JCGM 102:2011 for several outputs
#include <cmath>
#include <compare>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/statistics.h"

namespace provenit::colour {

enum class Distribution { normal, rectangular, triangular };

using SourceId = std::uint32_t;
using PoolId = std::int32_t;
inline constexpr PoolId kNoPool = -1;

/// One source of error. Type B: infinite degrees of freedom (or those that GUM G.4.2 gives for a doubtful estimate).
/// Type A: `pool` names the variance estimate it comes from; sources that share a pool share its degrees of freedom.
struct Source {
  std::string name;                 ///< for people; variance shares are grouped by it: "instrument's luminance scale"
  double standard_uncertainty = 0;  ///< >= 0, in the unit of the quantity it adds to
  Distribution distribution = Distribution::normal;
  PoolId pool = kNoPool;
};

/// Half-widths to standard uncertainties. source  JCGM 100:2008, 4.3.7 and 4.3.9
[[nodiscard]] inline double rectangular_uncertainty(double half_width) {
  return half_width / std::sqrt(3.0);
}
[[nodiscard]] inline double triangular_uncertainty(double half_width) {
  return half_width / std::sqrt(6.0);
}
/// Degrees of freedom of a Type B estimate that is itself only good to this relative uncertainty: 1 / (2 r^2), so 8 for
/// 25 %. source  JCGM 100:2008, G.4.2 (equation G.3)
[[nodiscard]] inline double type_b_degrees_of_freedom(double relative_uncertainty) {
  return 0.5 / (relative_uncertainty * relative_uncertainty);
}

/// Sources that are correlated with one another: ids first ... first + count - 1.
struct CorrelatedGroup {
  SourceId first = 0;
  std::uint32_t count = 0;
  std::vector<double> correlation;  ///< count x count, row major
  std::vector<double> factor;       ///< lower-triangular L with L L^T = correlation, row major
};

/// The sources of one evaluation. Only grows; ids stay valid. Not for use by several threads while it grows.
class Sources {
 public:
  /// A variance estimate with this many degrees of freedom (> 0), for type A sources to share.
  PoolId add_pool(double degrees_of_freedom);
  SourceId add(Source source);
  /// Normal sources with the given correlation matrix (row major). Errors: invalid_input if a source is not normal or
  /// the matrix is not a correlation matrix (symmetric, unit diagonal, positive semidefinite).
  [[nodiscard]] Result<SourceId> add_correlated(std::span<const Source> sources, std::span<const double> correlation);

  [[nodiscard]] std::size_t size() const { return sources_.size(); }
  [[nodiscard]] const Source& operator[](SourceId id) const { return sources_[id]; }
  [[nodiscard]] double degrees_of_freedom(PoolId pool) const {
    return pool == kNoPool ? std::numeric_limits<double>::infinity() : pools_[pool];
  }
  /// nullptr for a source that is correlated with none.
  [[nodiscard]] const CorrelatedGroup* group_of(SourceId id) const {
    return groups_of_[id] < 0 ? nullptr : &groups_[groups_of_[id]];
  }

 private:
  std::vector<Source> sources_;
  std::vector<double> pools_;
  std::vector<CorrelatedGroup> groups_;
  std::vector<std::int32_t> groups_of_;
};

/// A value with its derivatives to sources. Converts from a bare number, which then is exact.
class Uncertain {
 public:
  struct Term {
    SourceId source;
    double derivative;
  };
  using Terms = std::vector<Term>;  // ascending by source

  Uncertain() = default;
  Uncertain(double value) : value_(value) {}  // NOLINT: constants must mix freely with uncertain numbers
  /// value + error, the error being that of `source` times `derivative`.
  Uncertain(double value, SourceId source, double derivative = 1) : value_(value), terms_{{source, derivative}} {}

  [[nodiscard]] double value() const { return value_; }
  [[nodiscard]] const Terms& terms() const { return terms_; }
  [[nodiscard]] double derivative(SourceId source) const;
  /// First order: value + sum of derivative x error, `errors` being indexed by source.
  [[nodiscard]] double at(std::span<const double> errors) const {
    double v = value_;
    for (const Term& t : terms_) v += t.derivative * errors[t.source];
    return v;
  }

  Uncertain& operator+=(const Uncertain& b) { return *this = combine(value_ + b.value_, 1, *this, 1, b); }
  Uncertain& operator-=(const Uncertain& b) { return *this = combine(value_ - b.value_, 1, *this, -1, b); }
  Uncertain& operator*=(const Uncertain& b) { return *this = combine(value_ * b.value_, b.value_, *this, value_, b); }
  Uncertain& operator/=(const Uncertain& b) {
    return *this = combine(value_ / b.value_, 1 / b.value_, *this, -value_ / (b.value_ * b.value_), b);
  }

  /// f(a) with slope f'(a).
  [[nodiscard]] static Uncertain map(double value, double slope, const Uncertain& a);
  /// f(a, b) with its two partial derivatives.
  [[nodiscard]] static Uncertain combine(double value, double da, const Uncertain& a, double db, const Uncertain& b);

 private:
  double value_ = 0;
  Terms terms_;
};

inline Uncertain operator+(const Uncertain& a) {
  return a;
}
inline Uncertain operator-(const Uncertain& a) {
  return Uncertain::map(-a.value(), -1, a);
}
inline Uncertain operator+(Uncertain a, const Uncertain& b) {
  return a += b;
}
inline Uncertain operator-(Uncertain a, const Uncertain& b) {
  return a -= b;
}
inline Uncertain operator*(Uncertain a, const Uncertain& b) {
  return a *= b;
}
inline Uncertain operator/(Uncertain a, const Uncertain& b) {
  return a /= b;
}

// By value alone: which branch a formula takes does not depend on the uncertainty.
inline bool operator==(const Uncertain& a, const Uncertain& b) {
  return a.value() == b.value();
}
inline std::partial_ordering operator<=>(const Uncertain& a, const Uncertain& b) {
  return a.value() <=> b.value();
}

// Found by argument-dependent lookup, beside `using std::pow;` and the like. At a kink (fabs, hypot at 0) or where the
// slope is infinite (sqrt, pow, log at 0) the derivative is what IEEE arithmetic gives: use Monte Carlo there.
[[nodiscard]] Uncertain exp(const Uncertain& a);
[[nodiscard]] Uncertain log(const Uncertain& a);
[[nodiscard]] Uncertain log2(const Uncertain& a);
[[nodiscard]] Uncertain log10(const Uncertain& a);
[[nodiscard]] Uncertain sqrt(const Uncertain& a);
[[nodiscard]] Uncertain cbrt(const Uncertain& a);
[[nodiscard]] Uncertain pow(const Uncertain& a, double exponent);
[[nodiscard]] Uncertain pow(const Uncertain& a, const Uncertain& exponent);
[[nodiscard]] Uncertain pow(double a, const Uncertain& exponent);
[[nodiscard]] Uncertain sin(const Uncertain& a);
[[nodiscard]] Uncertain cos(const Uncertain& a);
[[nodiscard]] Uncertain tan(const Uncertain& a);
[[nodiscard]] Uncertain atan(const Uncertain& a);
[[nodiscard]] Uncertain atan2(const Uncertain& y, const Uncertain& x);
[[nodiscard]] Uncertain hypot(const Uncertain& x, const Uncertain& y);
[[nodiscard]] Uncertain fabs(const Uncertain& a);
[[nodiscard]] inline Uncertain abs(const Uncertain& a) {
  return fabs(a);
}
[[nodiscard]] inline Uncertain fmax(const Uncertain& a, const Uncertain& b) {
  return a.value() < b.value() ? b : a;
}
[[nodiscard]] inline Uncertain fmin(const Uncertain& a, const Uncertain& b) {
  return b.value() < a.value() ? b : a;
}
[[nodiscard]] inline bool isfinite(const Uncertain& a) {
  return std::isfinite(a.value());
}
[[nodiscard]] inline bool isnan(const Uncertain& a) {
  return std::isnan(a.value());
}

/// Combined variance, correlations included. source  JCGM 100:2008, 5.2.2 (equation 13)
[[nodiscard]] double variance(const Uncertain& a, const Sources& sources);
[[nodiscard]] double standard_uncertainty(const Uncertain& a, const Sources& sources);
/// Covariance of two outputs. source  JCGM 102:2011, 6.2.1
[[nodiscard]] double covariance(const Uncertain& a, const Uncertain& b, const Sources& sources);
/// Their correlation coefficient; 0 when one of them is exact.
[[nodiscard]] double correlation(const Uncertain& a, const Uncertain& b, const Sources& sources);

/// What one name contributes to the variance. A covariance between two names is shared between them equally, so the
/// variances add up to the whole; a share can be negative where a correlation makes the whole smaller.
struct VarianceShare {
  std::string name;
  double variance = 0;
  double fraction = 0;  ///< of the combined variance; 0 when that is 0
};
/// Largest first.
[[nodiscard]] std::vector<VarianceShare> variance_shares(const Uncertain& a, const Sources& sources);

struct EffectiveDegreesOfFreedom {
  double value = std::numeric_limits<double>::infinity();
  /// True when sources of different pools, of which at least one has finite degrees of freedom, are correlated: the
  /// formula assumes independence, and counts such a group as if it had the smallest of its degrees of freedom.
  bool approximate = false;
};
/// Welch-Satterthwaite over pools: u^4 / sum(u_pool^4 / nu_pool). source  JCGM 100:2008, G.4.1 (equation G.2b)
[[nodiscard]] EffectiveDegreesOfFreedom effective_degrees_of_freedom(const Uncertain& a, const Sources& sources);

/// Everything a finding quotes, from linear propagation.
struct LinearResult {
  double value = 0;
  double standard_uncertainty = 0;
  EffectiveDegreesOfFreedom degrees_of_freedom;
  double factor = 0;  ///< t-factor used
  Interval interval;  ///< value +- factor x standard_uncertainty
};
/// source  JCGM 100:2008, G.3.2, G.4.1 (effective degrees of freedom are not rounded down)
[[nodiscard]] LinearResult linear_result(const Uncertain& a, const Sources& sources, double coverage = kCoverage);

}  // namespace provenit::colour
