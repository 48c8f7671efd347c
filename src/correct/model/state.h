#pragma once
#include <Eigen/Cholesky>
#include <Eigen/Core>

#include "field.h"
#include "fit.h"
#include "physics.h"
#include "provenit/correct/display_model.h"
#include "provenit/correct/encoded_light.h"
#include "slopes.h"

namespace provenit::correct {

/// A fitted display, whole.
struct DisplayModel::State {
  signal::Encoding encoding;
  EncodedLight light;
  model::Fit fit;
  model::Field field;
  std::vector<model::Point> points;
  ModelReport report;

  // What the readings leave uncertain, linear about the fit: covariance of I, T, P at two places before any reading is
  // Phi P Phi^T + K (P: prior of the parameters, K: the field), and after them smaller by what the readings know.
  Eigen::MatrixXd prior;                ///< P
  Eigen::MatrixXd slopes;               ///< Phi of the readings, 3n x p
  Eigen::LLT<Eigen::MatrixXd> reading;  ///< of the readings' own covariance with their noise, 3n x 3n

  /// Light of the container's primaries that a signal asks for.
  [[nodiscard]] model::Vector container_light(const colour::SignalRgb<>& signal) const {
    const auto l = light.light(signal);
    return {l.r, l.g, l.b};
  }
  /// Phi at a place, in the state 1.
  [[nodiscard]] Eigen::MatrixXd slope_at(const model::Vector& container) const {
    return model::itp_slopes(fit.physics, container, {1, 1, 1}, fit.terms);
  }
  void weigh();  ///< fills what is uncertain from the fit and points
};

}  // namespace provenit::correct
