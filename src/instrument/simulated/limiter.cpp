#include <algorithm>
#include <cmath>

#include "limiter_internal.h"

namespace provenit::simulated {

// Monotone cubic Hermite with the harmonic-mean slopes of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 300
// (1984).
LimiterCurve::LimiterCurve(std::span<const Limiter::Point> points) {
  for (const auto& p : points) {
    x_.push_back(std::log(p.load));
    y_.push_back(p.cap);
  }
  slope_.assign(x_.size(), 0);
  for (std::size_t i = 1; i + 1 < x_.size(); ++i) {
    const double h0 = x_[i] - x_[i - 1], h1 = x_[i + 1] - x_[i];
    const double d0 = (y_[i] - y_[i - 1]) / h0, d1 = (y_[i + 1] - y_[i]) / h1;
    if (d0 * d1 > 0) slope_[i] = 3 * (h0 + h1) / ((2 * h1 + h0) / d0 + (h1 + 2 * h0) / d1);
  }
}

double LimiterCurve::cap(double load) const {
  if (x_.empty()) return 1;
  const double x = std::log(std::max(load, 1e-300));
  if (x <= x_.front()) return y_.front();
  if (x >= x_.back()) return y_.back();
  const auto i = static_cast<std::size_t>(std::upper_bound(x_.begin(), x_.end(), x) - x_.begin()) - 1;
  const double h = x_[i + 1] - x_[i], t = (x - x_[i]) / h;
  const double rest = 1 - t;
  return y_[i] * (1 + 2 * t) * rest * rest + slope_[i] * h * t * rest * rest + y_[i + 1] * t * t * (3 - 2 * t) -
         slope_[i + 1] * h * t * t * rest;
}

double remaining(Seconds since, double time_constant_s) {
  if (since.s <= 0) return 1;
  const double turns = since.s / time_constant_s;
  if (turns >= kMoveEnds) return 0;
  const double end = std::exp(-kMoveEnds);
  return (std::exp(-turns) - end) / (1 - end);
}

}  // namespace provenit::simulated
