#pragma once
// Readings as the fit takes them: checked, in order, with the state of the display at each.
#include <string>
#include <vector>

#include "physics.h"
#include "provenit/base/error.h"

namespace provenit::correct::model {

struct Point {
  std::string name;
  Vector container{};            ///< light of the container's primaries that the signal asks for
  Vector xyz{};                  ///< as read
  colour::Matrix3<> covariance;  ///< of the reading
  Vector state{1, 1, 1};         ///< of the channels at that time
};

struct Readings {
  Start start;
  std::vector<Point> points;  ///< without references
  double largest_drift = 0;   ///< of a channel's state from 1
};

/// Errors: those of DisplayModel::fit but for the last.
[[nodiscard]] Result<Readings> prepared(const signal::Encoding& encoding, std::span<const ModelReading> readings);

}  // namespace provenit::correct::model
