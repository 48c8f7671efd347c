#pragma once
#include "field.h"
#include "fit.h"
#include "physics.h"
#include "posterior.h"
#include "provenit/correct/display_model.h"
#include "provenit/signal/encoded_light.h"

namespace provenit::correct {

/// A fitted display, whole.
struct DisplayModel::State {
  signal::Encoding encoding;
  signal::EncodedLight light;
  model::Fit fit;
  model::Field field;
  std::vector<model::Point> points;
  ModelReport report;

  model::Posterior posterior;  ///< of the readings; empty in a model that only foretells

  /// Light of the container's primaries that a signal asks for.
  [[nodiscard]] model::Vector container_light(const colour::SignalRgb<>& signal) const {
    const auto l = light.light(signal);
    return {l.r, l.g, l.b};
  }
};

}  // namespace provenit::correct
