#include "provenit/colour/planck.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum_xyz.h"

namespace provenit::colour {
namespace {

// Stefan-Boltzmann: the radiance of a black body over all wavelengths is sigma T^4 / pi (CODATA 2018 sigma).
TEST(Planck, IntegratesToStefanBoltzmann) {
  for (const double t : {1000.0, 2856.0, 6504.0}) {
    double sum = 0;
    for (double log_nm = std::log(50.0); log_nm < std::log(3e6); log_nm += 1e-3)
      sum += planck_radiance({.nm = std::exp(log_nm)}, {.kelvin = t}) * std::exp(log_nm) * 1e-3;
    EXPECT_NEAR(sum / (5.670374419e-8 * std::pow(t, 4) / std::numbers::pi), 1, 1e-6) << t;
  }
}

TEST(Planck, PeaksWhereWienSays) {
  const double t = 5000, peak_nm = 2.897771955e-3 / t * 1e9;
  const double top = planck_radiance({.nm = peak_nm}, {.kelvin = t});
  EXPECT_LT(planck_radiance({.nm = peak_nm * 1.001}, {.kelvin = t}), top);
  EXPECT_LT(planck_radiance({.nm = peak_nm * 0.999}, {.kelvin = t}), top);
}

TEST(Planck, LocusIsTheChromaticityOfTheSpectrum) {
  for (const double t : {1000.0, 2856.0, 6504.0, 25000.0, 1e5}) {
    const auto s = planck_spectrum({.kelvin = t}, 360, 1, 471, kC2Its90).value();
    const auto uv = uv1960_from_uv_prime(uv_prime_from_xyz(xyz_from_radiance(s).value().xyz));
    const auto p = planckian_locus({.kelvin = t});
    EXPECT_NEAR(p.uv.u, uv.u, 1e-14) << t;
    EXPECT_NEAR(p.uv.v, uv.v, 1e-14) << t;
  }
}

TEST(Planck, DerivativesAgreeWithDifferences) {
  for (const double t : {1200.0, 3000.0, 6504.0, 40000.0}) {
    const double r = 1 / t, h = 1e-4 * r;
    const auto at = planckian_locus({.kelvin = t});
    const auto up = planckian_locus({.kelvin = 1 / (r + h)}), down = planckian_locus({.kelvin = 1 / (r - h)});
    EXPECT_NEAR(at.du_dr, (up.uv.u - down.uv.u) / (2 * h), 1e-6 * std::abs(at.du_dr)) << t;
    EXPECT_NEAR(at.dv_dr, (up.uv.v - down.uv.v) / (2 * h), 1e-6 * std::abs(at.du_dr)) << t;
    EXPECT_NEAR(at.d2u_dr2, (up.du_dr - down.du_dr) / (2 * h), 1e-6 * std::abs(at.d2u_dr2) + 1e-4) << t;
    EXPECT_NEAR(at.d2v_dr2, (up.dv_dr - down.dv_dr) / (2 * h), 1e-6 * std::abs(at.d2v_dr2) + 1e-4) << t;
  }
}

TEST(Planck, BadInputIsRefused) {
  EXPECT_FALSE(planck_spectrum({.kelvin = 0}, 380, 5, 81));
  EXPECT_FALSE(planck_spectrum({.kelvin = 5000}, 380, 0, 81));
  EXPECT_FALSE(planck_spectrum({.kelvin = 5000}, 380, 5, 0));
}

}  // namespace
}  // namespace provenit::colour
