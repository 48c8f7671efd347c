#pragma once
// Derivatives of the formula by its parameters.
#include <Eigen/Core>

#include "physics.h"
#include "provenit/correct/display_model.h"

namespace provenit::correct::model {

[[nodiscard]] bool is_active(int parameter, const ModelTerms& terms);

/// d(X, Y, Z) / d(parameters); 3 x parameter_count. Columns of terms not chosen are 0.
[[nodiscard]] Eigen::MatrixXd xyz_slopes(const Physics& physics, const Vector& container, const Vector& state,
                                         const ModelTerms& terms);

/// The same of I, T, P.
[[nodiscard]] Eigen::MatrixXd itp_slopes(const Physics& physics, const Vector& container, const Vector& state,
                                         const ModelTerms& terms);

}  // namespace provenit::correct::model
