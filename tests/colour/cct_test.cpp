#include "provenit/colour/cct.h"

#include <gtest/gtest.h>
#include <lcms2.h>

#include <cmath>

#include "provenit/colour/dual.h"
#include "provenit/colour/planck.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::colour {
namespace {

/// The point at a distance along the normal of the locus: its CCT and Duv are known by construction.
Uv1960<> point_at(double kelvin, double duv) {
  const auto p = planckian_locus({.kelvin = kelvin});
  const double speed = std::hypot(p.du_dr, p.dv_dr);
  return {p.uv.u - duv * p.dv_dr / speed, p.uv.v + duv * p.du_dr / speed};
}

/// Calls f(kelvin, duv) over the whole range of a method, off the rows of its table.
template <class F>
void over_the_plane(double lowest, double highest, double widest_duv, F f) {
  constexpr int temperatures = 150, steps = 10;
  for (int i = 0; i < temperatures; ++i)
    for (int j = -steps; j <= steps; ++j)
      f(lowest * std::pow(highest / lowest, (i + 0.37) / temperatures), widest_duv * j / steps);
}

TEST(Cct, SolutionFindsThePointItWasMadeFrom) {
  over_the_plane(1000, 100000, 0.05, [](double kelvin, double duv) {
    const auto s = solve_cct(point_at(kelvin, duv)).value();
    EXPECT_NEAR(s.cct_kelvin / kelvin, 1, 1e-9) << kelvin << " " << duv;
    EXPECT_NEAR(s.duv, duv, 1e-12) << kelvin << " " << duv;
  });
}

TEST(Cct, EndsOfTheRangeAreInside) {
  for (const double kelvin : {1000.0, 100000.0})
    EXPECT_NEAR(solve_cct(point_at(kelvin, 0)).value().cct_kelvin / kelvin, 1, 1e-9);
}

TEST(Cct, OhnoHoldsItsStatedError) {
  double worst_cct = 0, worst_duv = 0;
  over_the_plane(1000, 100000, 0.05, [&](double kelvin, double duv) {
    const auto o = cct_duv_ohno(point_at(kelvin, duv)).value();
    worst_cct = std::max(worst_cct, std::abs(o.cct_kelvin / kelvin - 1));
    worst_duv = std::max(worst_duv, std::abs(o.duv - duv));
  });
  // The largest errors sit at the triangular part's border.
  over_the_plane(1000, 25000, 0.00199, [&](double kelvin, double duv) {
    const auto o = cct_duv_ohno(point_at(kelvin, duv)).value();
    worst_cct = std::max(worst_cct, std::abs(o.cct_kelvin / kelvin - 1));
    worst_duv = std::max(worst_duv, std::abs(o.duv - duv));
  });
  EXPECT_LT(worst_cct, 3e-5);
  EXPECT_LT(worst_duv, 1e-6);
  EXPECT_GT(worst_cct, 1e-6) << "if it were exact, it would not be Ohno's method";
}

TEST(Cct, RobertsonHoldsItsStatedError) {
  over_the_plane(1700, 10000, 0.01, [](double kelvin, double duv) {
    const auto r = cct_duv_robertson(point_at(kelvin, duv)).value();
    EXPECT_NEAR(r.cct_kelvin / kelvin, 1, 6e-4) << kelvin << " " << duv;
    EXPECT_NEAR(r.duv, duv, 1.5e-4) << kelvin << " " << duv;
  });
}

TEST(Cct, RobertsonAgreesWithLittleCms) {  // lcms2 2.14, cmsTempFromWhitePoint: Robertson's method
  over_the_plane(1700, 25000, 0.01, [](double kelvin, double duv) {
    if (kelvin > 1e6 / 351 && kelvin < 1e6 / 299) return;  // it has the misprint u = 0.24702 (0.24792) at 325 mired
    const auto xy = xy_from_uv1960(point_at(kelvin, duv));
    const cmsCIExyY white{xy.x, xy.y, 1};
    double other = 0;
    ASSERT_TRUE(cmsTempFromWhitePoint(&other, &white));
    EXPECT_NEAR(cct_duv_robertson(point_at(kelvin, duv)).value().cct_kelvin / other, 1, 1e-9) << kelvin << " " << duv;
  });
}

TEST(Cct, DerivativesAgreeWithDifferences) {
  for (const double kelvin : {1500.0, 6504.0, 30000.0})
    for (const double duv : {-0.02, 0.0, 0.003, 0.02}) {
      const auto at = point_at(kelvin, duv);
      const auto s = solve_cct(at).value();
      const double h = 1e-7;
      const auto slope = [&](double du, double dv, double CctSolution::*part) {
        const auto up = solve_cct({at.u + du * h, at.v + dv * h}).value();
        const auto down = solve_cct({at.u - du * h, at.v - dv * h}).value();
        return (up.*part - down.*part) / (2 * h);
      };
      const double scale = std::hypot(s.dcct_du, s.dcct_dv);
      EXPECT_NEAR(slope(1, 0, &CctSolution::cct_kelvin), s.dcct_du, 1e-5 * scale) << kelvin << " " << duv;
      EXPECT_NEAR(slope(0, 1, &CctSolution::cct_kelvin), s.dcct_dv, 1e-5 * scale) << kelvin << " " << duv;
      EXPECT_NEAR(slope(1, 0, &CctSolution::duv), s.dduv_du, 1e-5) << kelvin << " " << duv;
      EXPECT_NEAR(slope(0, 1, &CctSolution::duv), s.dduv_dv, 1e-5) << kelvin << " " << duv;
    }
}

TEST(Cct, DualNumbersFlowThroughFromXyz) {
  const auto of = [](const AbsoluteXyz<Dual<3>>& c) {
    return cct_duv(uv1960_from_uv_prime(uv_prime_from_xyz(c))).value();
  };
  const AbsoluteXyz<Dual<3>> c{Dual<3>::variable(95, 0), Dual<3>::variable(100, 1), Dual<3>::variable(108, 2)};
  const auto r = of(c);
  // A common factor of X, Y, Z changes neither.
  EXPECT_NEAR(95 * r.cct_kelvin.slope[0] + 100 * r.cct_kelvin.slope[1] + 108 * r.cct_kelvin.slope[2], 0, 1e-6);
  EXPECT_NEAR(95 * r.duv.slope[0] + 100 * r.duv.slope[1] + 108 * r.duv.slope[2], 0, 1e-12);
  EXPECT_GT(r.cct_kelvin.slope[2], 0) << "more Z is bluer";
  EXPECT_GT(r.duv.slope[1], 0) << "more Y is greener";
}

TEST(Cct, UncertainNumbersFlowThrough) {
  Sources sources;
  const auto u = sources.add({.name = "u", .standard_uncertainty = 1e-4});
  const auto v = sources.add({.name = "v", .standard_uncertainty = 1e-4});
  const auto r = cct_duv(Uv1960<Uncertain>{Uncertain(0.1978, u), Uncertain(0.3122, v)}).value();
  const auto s = solve_cct({0.1978, 0.3122}).value();
  EXPECT_EQ(r.cct_kelvin.value(), s.cct_kelvin);
  EXPECT_NEAR(standard_uncertainty(r.cct_kelvin, sources), 1e-4 * std::hypot(s.dcct_du, s.dcct_dv), 1e-9);
  EXPECT_NEAR(standard_uncertainty(r.duv, sources), 1e-4, 1e-12) << "the normal has unit length";
}

TEST(Cct, OutsideTheRangeIsSaid) {
  const auto too_hot = solve_cct(planckian_locus({.kelvin = 150000}).uv);
  ASSERT_FALSE(too_hot);
  EXPECT_EQ(too_hot.error().code, ErrorCode::out_of_range);
  EXPECT_NE(too_hot.error().message.find("above 100000 K"), std::string::npos);
  const auto too_cold = cct_duv_ohno(planckian_locus({.kelvin = 900}).uv);
  ASSERT_FALSE(too_cold);
  EXPECT_NE(too_cold.error().message.find("below 1000 K"), std::string::npos);
  EXPECT_FALSE(cct_duv_robertson(planckian_locus({.kelvin = 1500}).uv));
  for (const Uv1960<> bad : {Uv1960<>{NAN, 0.3}, Uv1960<>{0.2, INFINITY}}) {
    EXPECT_EQ(solve_cct(bad).error().code, ErrorCode::invalid_input);
    EXPECT_EQ(cct_duv_robertson(bad).error().code, ErrorCode::invalid_input);
  }
}

}  // namespace
}  // namespace provenit::colour
