#pragma once
// Delta E ITP as vectors: whole, and the parts that luminance and chromaticity make by themselves.
#include <array>
#include <cmath>
#include <span>

#include "provenit/colour/difference.h"
#include "provenit/colour/spaces.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {

[[nodiscard]] inline colour::AbsoluteXyz<> light_at(const StepLight& step, std::span<const double> errors) {
  return {.X = step.light.X.at(errors), .Y = step.light.Y.at(errors), .Z = step.light.Z.at(errors)};
}

/// A grey of D65 (x 0.3127, y 0.3290): I is the PQ signal of its luminance, T = P = 0.
struct GreyTarget {
  double cdm2 = 0;
  double intensity = 0;
};
[[nodiscard]] inline GreyTarget grey_target(double cdm2) {
  return {cdm2, colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value};
}

struct ItpVectors {
  std::array<double, 3> whole{};         ///< 720 x (dI, dT, dP)
  double luminance = 0;                  ///< 720 x dI between the target and itself at the light's luminance
  std::array<double, 3> chromaticity{};  ///< 720 x (dI, dT, dP) between target and light scaled to its luminance
};

/// Light less target; the lengths are those of colour::itp_difference. Light of luminance <= 0 has no chromaticity.
/// source  Rec. ITU-R BT.2124-0 (01/2019)
[[nodiscard]] inline ItpVectors itp_vectors(const colour::AbsoluteXyz<>& light, const GreyTarget& target) {
  constexpr double scale = 720;
  const auto against_target = [&](const colour::AbsoluteXyz<>& c) {
    const auto itp = colour::itp_from_xyz(c);
    return std::array{scale * (itp.i - target.intensity), scale * itp.t, scale * itp.p};
  };
  ItpVectors out;
  out.whole = against_target(light);
  out.luminance = scale * (colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = light.Y}).value - target.intensity);
  if (light.Y > 0) {
    const double k = target.cdm2 / light.Y;
    out.chromaticity = against_target({.X = k * light.X, .Y = target.cdm2, .Z = k * light.Z});
  }
  return out;
}

}  // namespace provenit::evaluation
