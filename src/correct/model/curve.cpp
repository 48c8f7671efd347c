#include "curve.h"

#include <algorithm>
#include <cmath>

namespace provenit::correct::model {
namespace {

constexpr int kDegree = 3;
/// Where a curve is near black and near its top, in PQ.
constexpr double kDark = 0.16, kBright = 0.08;

}  // namespace

CurveKnots::CurveKnots(double top) {
  std::vector<double> inner;
  for (const double x : {0.0, 0.015, 0.03, 0.05, 0.075, 0.10, 0.13}) inner.push_back(x);
  const double from = kDark, to = top - kBright;
  const int steps = std::max(2, static_cast<int>(std::lround((to - from) / 0.04)));
  for (int i = 0; i <= steps; ++i) inner.push_back(from + (to - from) * i / steps);
  for (const double below : {0.055, 0.04, 0.03, 0.02, 0.01, 0.0}) inner.push_back(top - below);
  knots_.assign(kDegree, inner.front());
  knots_.insert(knots_.end(), inner.begin(), inner.end());
  knots_.insert(knots_.end(), kDegree, inner.back());
  for (std::size_t i = 0; i + kDegree + 1 < knots_.size(); ++i)
    greville_.push_back((knots_[i + 1] + knots_[i + 2] + knots_[i + 3]) / 3);
}

double CurveKnots::expected_bend(int coefficient) const {
  const double x = greville_[coefficient];
  if (x < kDark) return 8;
  return x > top() - 1.5 * kBright ? 40 : 2;
}

CurveKnots::Basis CurveKnots::basis(double x) const {
  x = std::clamp(x, 0.0, top());
  const auto last = knots_.end() - kDegree - 1;
  auto at = std::upper_bound(knots_.begin() + kDegree, last, x);
  const auto k = static_cast<int>(at - knots_.begin()) - 1;
  // Cox and de Boor, one degree after the other.
  std::array<double, 4> n{1, 0, 0, 0};
  for (int degree = 1; degree <= kDegree; ++degree) {
    double saved = 0;
    for (int r = 0; r < degree; ++r) {
      const double right = knots_[k + r + 1] - x, left = x - knots_[k + 1 - degree + r];
      const double share = n[r] / (right + left);
      n[r] = saved + right * share;
      saved = left * share;
    }
    n[degree] = saved;
  }
  return {.first = k - kDegree, .value = n};
}

}  // namespace provenit::correct::model
