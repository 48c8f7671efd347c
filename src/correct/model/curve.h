#pragma once
// A rising curve as a cubic B-spline with clamped ends: it rises wherever its coefficients do.
// source  de Boor, A Practical Guide to Splines (1978): basis recurrence, Greville points, variation diminishing
#include <array>
#include <vector>

namespace provenit::correct::model {

/// Knots shared by the curves of one display: close near black and near the top, where displays do most.
class CurveKnots {
 public:
  /// From 0 to top, in PQ.
  explicit CurveKnots(double top);

  [[nodiscard]] int size() const { return static_cast<int>(greville_.size()); }  ///< number of coefficients
  [[nodiscard]] double top() const { return knots_.back(); }
  /// Coefficients of the curve y = x.
  [[nodiscard]] const std::vector<double>& greville() const { return greville_; }
  /// How bent a display's curve may be expected to be there: standard deviation of its second derivative.
  [[nodiscard]] double expected_bend(int coefficient) const;

  /// The four basis functions that are not 0 at x (clamped to the range), those of coefficients first ... first + 3.
  struct Basis {
    int first = 0;
    std::array<double, 4> value{};
  };
  [[nodiscard]] Basis basis(double x) const;
  [[nodiscard]] double value(const double* coefficients, double x) const {
    const Basis b = basis(x);
    double y = 0;
    for (int i = 0; i < 4; ++i) y += b.value[i] * coefficients[b.first + i];
    return y;
  }

 private:
  std::vector<double> knots_, greville_;
};

}  // namespace provenit::correct::model
