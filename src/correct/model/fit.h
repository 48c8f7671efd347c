#pragma once
// Maximum a posteriori fit of the parameters, and which terms to fit at all.
#include <Eigen/Core>
#include <span>
#include <vector>

#include "physics.h"
#include "provenit/correct/display_model.h"
#include "readings.h"

namespace provenit::correct::model {

/// Precision (inverse covariance) of the prior of the parameters, those of terms not chosen held fast.
[[nodiscard]] Eigen::MatrixXd prior_precision(const Start& start, const ModelTerms& terms);

struct Fit {
  Physics physics;
  ModelTerms terms;
  double discrepancy = 0;  ///< standard deviation in I, T and P each, beyond the noise
  double criterion = 0;    ///< second-order Akaike
  double freedom = 1;      ///< share of the readings' degrees of freedom that the parameters leave
};

/// The points that count, with this choice of terms, started from `from` (prior mean if null).
[[nodiscard]] Fit fitted(const Start& start, std::span<const Point> points, const ModelTerms& terms,
                         const Physics* from = nullptr);

/// The terms, each taken while the criterion falls. `tried` gets every choice and its criterion.
[[nodiscard]] Fit chosen(const Start& start, std::span<const Point> points,
                         std::vector<std::pair<ModelTerms, double>>& tried);

/// Light minus model in I, T, P, linear about the model, and its covariance by the reading's noise.
struct Deviation {
  Vector itp{};
  colour::Matrix3<> noise;
};
[[nodiscard]] Deviation deviation(const Physics& physics, const Point& point);

}  // namespace provenit::correct::model
