#include "provenit/colour/chromaticity_uncertainty.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/dual.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {
namespace {

using Scalar3 = Dual<3>;

AbsoluteXyz<Scalar3> with_slopes(const AbsoluteXyz<>& xyz) {
  return {.X = Scalar3::variable(xyz.X, 0), .Y = Scalar3::variable(xyz.Y, 1), .Z = Scalar3::variable(xyz.Z, 2)};
}

double form(const Scalar3& a, const Matrix3<>& covariance, const Scalar3& b) {
  double sum = 0;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) sum += a.slope[i] * covariance(i, j) * b.slope[j];
  return sum;
}

ChromaticityUncertainty propagated(const Scalar3& first, const Scalar3& second, const Matrix3<>& covariance) {
  const double u1 = std::sqrt(std::max(0.0, form(first, covariance, first)));
  const double u2 = std::sqrt(std::max(0.0, form(second, covariance, second)));
  return {u1, u2, u1 > 0 && u2 > 0 ? form(first, covariance, second) / (u1 * u2) : 0};
}

}  // namespace

Matrix3<> covariance_of(const Vector3<>& u, double r_xy, double r_xz, double r_yz) {
  const double xy = r_xy * u[0] * u[1], xz = r_xz * u[0] * u[2], yz = r_yz * u[1] * u[2];
  return {.row = {{{u[0] * u[0], xy, xz}, {xy, u[1] * u[1], yz}, {xz, yz, u[2] * u[2]}}}};
}

ChromaticityUncertainty xy_uncertainty(const AbsoluteXyz<>& xyz, const Matrix3<>& covariance) {
  const auto c = xy_from_xyz(with_slopes(xyz));
  return propagated(c.x, c.y, covariance);
}

ChromaticityUncertainty uv_prime_uncertainty(const AbsoluteXyz<>& xyz, const Matrix3<>& covariance) {
  const auto c = uv_prime_from_xyz(with_slopes(xyz));
  return propagated(c.u, c.v, covariance);
}

}  // namespace provenit::colour
