#include "provenit/correct/reading_noise.h"

#include <algorithm>
#include <array>

namespace provenit::correct {

colour::Matrix3<> reading_noise(const instrument::Capabilities& c, const colour::AbsoluteXyz<>& light,
                                Seconds integration) {
  constexpr double kCommonShare = 0.8, kShortest_s = 1e-3;
  const double a2 = c.repeatability_relative * c.repeatability_relative;
  const std::array<double, 3> v{light.X, light.Y, light.Z};
  colour::Matrix3<> out;
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) out(i, j) = kCommonShare * a2 * v[i] * v[j];
    out(i, i) += (1 - kCommonShare) * a2 * v[i] * v[i] + c.noise_floor_cdm2 * c.noise_floor_cdm2 +
                 c.shot_noise * c.shot_noise * std::max(v[i], 0.0) / std::max(integration.s, kShortest_s);
  }
  return out;
}

ReadingCost reading_cost(const instrument::Capabilities& c, Seconds settle, const colour::AbsoluteXyz<>& light) {
  const Seconds whole = c.integration.expected({.cdm2 = light.Y});
  return {.seconds = (settle + whole).s, .covariance = reading_noise(c, light, whole - c.integration.overhead)};
}

}  // namespace provenit::correct
