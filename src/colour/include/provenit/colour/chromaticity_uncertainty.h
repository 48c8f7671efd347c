#pragma once
// First-order uncertainty of chromaticity from that of X, Y, Z, as closed formulas: for checks and for callers that
// have a covariance and nothing else. Findings use the uncertainty scalar (uncertainty.h), which keeps its sources.
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"

namespace provenit::colour {

struct ChromaticityUncertainty {
  double u_first = 0, u_second = 0;  ///< standard uncertainties of x, y (or u', v')
  double correlation = 0;            ///< between them; 0 if one of them is 0
};

/// Covariance matrix from standard uncertainties and correlation coefficients.
[[nodiscard]] Matrix3<> covariance_of(const Vector3<>& standard_uncertainty, double r_xy, double r_xz, double r_yz);

/// in      covariance of X, Y, Z in the square of their unit; X + Y + Z > 0
/// when not  near black, where the ratio is far from linear: use Monte Carlo
/// source  JCGM 100:2008 eq. 13; JCGM 102:2011 eq. 3 (law of propagation for several outputs)
[[nodiscard]] ChromaticityUncertainty xy_uncertainty(const AbsoluteXyz<>& xyz, const Matrix3<>& covariance);
[[nodiscard]] ChromaticityUncertainty uv_prime_uncertainty(const AbsoluteXyz<>& xyz, const Matrix3<>& covariance);

}  // namespace provenit::colour
