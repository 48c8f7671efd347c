#pragma once
// What the formula leaves of the readings, as a Gaussian process over the channels' drives: smooth, near 0 where
// nothing was read, and as sure as the readings make it. Its covariance has an end: readings further away than three
// lengths say nothing, which keeps the sum short. source  Rasmussen, Williams: Gaussian Processes for Machine Learning
// (2006), 2.2, 2.3, 5.4 (marginal likelihood);
//         Wendland, Advances in Computational Mathematics 4, 389 (1995): compactly supported positive definite function
//         of three dimensions, four times continuously differentiable (phi_3,2)
#include <Eigen/Core>
#include <span>
#include <vector>

#include "fit.h"
#include "physics.h"

namespace provenit::correct::model {

class Field {
 public:
  /// No field: 0 everywhere.
  Field() = default;
  /// Length and amplitude by the largest marginal likelihood over a grid; no field where that is not larger than
  /// without one.
  static Field from(const Fit& fit, std::span<const Point> points);

  [[nodiscard]] bool empty() const { return amplitude_ == 0; }
  [[nodiscard]] Vector at(const Vector& drive) const;  ///< I, T, P to add
  [[nodiscard]] double covariance(const Vector& a, const Vector& b) const;
  [[nodiscard]] double length() const { return length_; }
  /// What neither formula nor field follows: standard deviation in I, T, P each.
  [[nodiscard]] double rest() const { return rest_; }

 private:
  double amplitude_ = 0, length_ = 0.2, rest_ = 0;
  // Eight readings side by side, in single precision: the field is small, and the solver of tables asks often.
  static constexpr int kLanes = 8;
  struct Block {
    std::array<std::array<float, kLanes>, 3> drive{}, weight{};
  };
  std::vector<Block> blocks_;
};

}  // namespace provenit::correct::model
