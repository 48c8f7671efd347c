#include "provenit/colour/transfer_hlg.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "curve_properties.h"
#include "provenit/colour/quantise.h"

namespace provenit::colour {
namespace {

double oetf(double e) {
  return hlg_oetf(Relative<>{.value = e}).value;
}
double inverse_oetf(double e) {
  return hlg_inverse_oetf(Signal<>{.value = e}).value;
}
HlgDisplay<> display(double peak, double black, Bt2100Edition edition = Bt2100Edition::bt2100_2) {
  HlgDisplay<> d = hlg_display(Luminance<>{.cdm2 = peak}, Luminance<>{.cdm2 = black});
  d.edition = edition;
  return d;
}
double grey(double e, const HlgDisplay<>& d) {
  return hlg_eotf_grey(Signal<>{.value = e}, d).cdm2;
}
double inverse_grey(double l, const HlgDisplay<>& d) {
  return hlg_inverse_eotf_grey(Luminance<>{.cdm2 = l}, d).value;
}

TEST(Hlg, CurvesAreMonotoneFiniteAndUndoEachOther) {
  expect_curve({.name = "hlg oetf", .forward = oetf, .inverse = inverse_oetf});
  expect_curve({.name = "hlg inverse oetf", .forward = inverse_oetf, .inverse = oetf});
  for (const Bt2100Edition edition : {Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2})
    for (const auto& [peak, black] :
         {std::pair{100.0, 0.0}, {400.0, 0.0}, {1000.0, 0.005}, {1000.0, 0.0}, {2000.0, 0.05}, {4000.0, 0.001}}) {
      const HlgDisplay<> d = display(peak, black, edition);
      // With L_B > 0, BT.2100-1 takes L_B off again, which costs digits near black.
      expect_curve({.name = "hlg eotf of a grey",
                    .forward = [&](double e) { return grey(e, d); },
                    .inverse = [&](double l) { return inverse_grey(l, d); },
                    .round_trip_from = 1e-3,
                    .bias = 1e-12});
    }
}

TEST(Hlg, PartsMeetAtOneHalf) {
  EXPECT_EQ(oetf(1.0 / 12), 0.5);
  EXPECT_NEAR(oetf(std::nextafter(1.0 / 12, 1)), 0.5, 1e-15);
  EXPECT_NEAR(hlg::c, 0.5 - hlg::a * std::log(4 * hlg::a), 1e-16);
}

TEST(Hlg, MatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.2100-3 Table 5, worked values hlg_oetf (abs 1e-8; held to 1e-13 here, c being from its formula).
  EXPECT_NEAR(oetf(0.001), 0.0547722557505166, 1e-13);
  EXPECT_NEAR(oetf(0.05), 0.387298334620742, 1e-13);
  EXPECT_NEAR(oetf(0.18), 0.672358132127654, 1e-13);
  EXPECT_NEAR(oetf(0.265), 0.750027752030947, 1e-13);
  EXPECT_NEAR(oetf(1), 0.999999995066131, 1e-13);
  // hlg_system_gamma and hlg_system_gamma_extended (abs 1e-12).
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 400}), 1.03286519635774, 1e-12);
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 600}), 1.10682352516113, 1e-12);
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 1000}), 1.2, 1e-12);
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 1500}), 1.27395832880339, 1e-12);
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 300}), 0.999487802575433, 1e-12);
  EXPECT_NEAR(hlg_system_gamma(Luminance<>{.cdm2 = 3000}), 1.4178696788609, 1e-12);
  EXPECT_NEAR(hlg_system_gamma_extended(Luminance<>{.cdm2 = 1000}), 1.2, 1e-12);
  // hlg_black_lift_beta (abs 1e-9).
  EXPECT_NEAR(hlg_black_lift(display(1000, 0.005)).value, 0.0107102135226035, 1e-12);
  EXPECT_NEAR(hlg_black_lift(display(1000, 0.05)).value, 0.0279553411075243, 1e-12);
  EXPECT_NEAR(hlg_black_lift(display(600, 0.005)).value, 0.00879174418594601, 1e-12);
}

TEST(Hlg, EotfMatchesTheDefinitionEvaluatedAt40Digits) {
  // Worked values hlg_eotf, BT.2100-2 and later (rel 1e-7; held to 1e-11 here).
  const struct {
    double r, g, b, peak, black, R, G, B;
  } rows[] = {
      {0, 0, 0, 1000, 0, 0, 0, 0},
      {0.75, 0.75, 0.75, 1000, 0, 203.152145937545, 203.152145937545, 203.152145937545},
      {1, 1, 1, 1000, 0, 1000.00003232177, 1000.00003232177, 1000.00003232177},
      {1, 0, 0, 1000, 0, 765.406293033056, 0, 0},
      {0, 1, 0, 1000, 0, 0, 925.222004051107, 0},
      {0, 0, 1, 1000, 0, 0, 0, 568.343572324929},
      {0.2, 0.5, 0.7, 1000, 0, 7.88273849859073, 49.2671156161921, 121.860681302342},
      {0, 0, 0, 1000, 0.005, 0.005, 0.005, 0.005},
      {0.1, 0.1, 0.1, 1000, 0.005, 1.3285334054683, 1.3285334054683, 1.3285334054683},
      {0.75, 0.75, 0.75, 400, 0, 101.458245742488, 101.458245742488, 101.458245742488},
      {1, 1, 1, 1500, 0.001, 1500.00005147073, 1500.00005147073, 1500.00005147073},
      {0.75, 0.4, 0.2, 600, 0.01, 127.40088384877, 26.1734978073933, 6.93551054893817},
  };
  for (const auto& row : rows) {
    const AbsoluteRgb<> light = hlg_eotf(SignalRgb<>{.r = row.r, .g = row.g, .b = row.b}, display(row.peak, row.black));
    EXPECT_NEAR(light.r, row.R, 1e-11 * row.R + 1e-15);
    EXPECT_NEAR(light.g, row.G, 1e-11 * row.G + 1e-15);
    EXPECT_NEAR(light.b, row.B, 1e-11 * row.B + 1e-15);
  }
}

TEST(Hlg, EditionsDifferInBlackOnly) {
  // colour-science/colour, documented values of its BT.2100-1 and BT.2100-2 EOTFs at E' = 0.2121..., L_B 0.01.
  const double e = 0.212132034355964;
  EXPECT_NEAR(grey(e, display(1000, 0.01, Bt2100Edition::bt2100_1)), 6.485975065251558, 1e-12);
  EXPECT_NEAR(grey(e, display(1000, 0.01, Bt2100Edition::bt2100_2)), 7.3321975, 1e-7);
  EXPECT_EQ(grey(e, display(1000, 0, Bt2100Edition::bt2100_1)), grey(e, display(1000, 0, Bt2100Edition::bt2100_2)));
  for (const Bt2100Edition edition : {Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2}) {
    EXPECT_NEAR(grey(0, display(1000, 0.01, edition)), 0.01, 1e-15);
    EXPECT_NEAR(grey(1, display(1000, 0.01, edition)), 1000, 1e-4);
  }
}

TEST(Hlg, SignalsBelowBlackStillGiveLightWhereTheBlackIsLifted) {
  const HlgDisplay<> d = display(1000, 0.005);
  const double lift = hlg_black_lift(d).value;
  EXPECT_LT(grey(-0.005, d), 0.005);  // what PLUGE needs
  EXPECT_GT(grey(-0.005, d), 0);
  EXPECT_NEAR(grey(-lift / (1 - lift), d), 0, 1e-12);
  EXPECT_EQ(grey(-0.05, d), 0);
  EXPECT_EQ(grey(-0.05, display(1000, 0.005, Bt2100Edition::bt2100_1)), 0.005);
  // One channel below black in a colour: it gives no light, and never takes any away.
  EXPECT_EQ(hlg_eotf(SignalRgb<>{.r = 0.5, .g = -0.05, .b = 0.5}, d).g, 0);
  EXPECT_GT(hlg_eotf(SignalRgb<>{.r = 0.5, .g = -0.05, .b = 0.5}, d).r, 0);
}

TEST(Hlg, BlackIsFiniteForGammaBelowOne) {
  const HlgDisplay<> d = display(100, 0);  // gamma 0.846: Y^(gamma - 1) has no limit at 0
  ASSERT_LT(d.system_gamma, 1);
  EXPECT_EQ(grey(0, d), 0);
  EXPECT_EQ(inverse_grey(0, d), 0);
  EXPECT_EQ(hlg_eotf(SignalRgb<>{.r = 0, .g = 0.3, .b = 0}, d).r, 0);
}

TEST(Hlg, SurroundLowersGammaInBrightRooms) {
  // Report ITU-R BT.2390 section 6.2: factor 0.98 per doubling. BT.2408-8 section 3.2, Table 5, as rounded there:
  // -0.02 at 10 cd/m2, 0 at 5, +0.08 at 0.5 on a gamma of 1.2.
  const auto change = [](double surround) { return 1.2 * (hlg_surround_factor(Luminance<>{.cdm2 = surround}) - 1); };
  EXPECT_NEAR(hlg_surround_factor(Luminance<>{.cdm2 = 10}), 0.98, 1e-15);
  EXPECT_NEAR(change(10), -0.02, 0.005);
  EXPECT_NEAR(change(5), 0, 1e-15);
  EXPECT_NEAR(change(0.5), 0.08, 0.005);
  const HlgDisplay<> bright = hlg_display(Luminance<>{.cdm2 = 1000}, Luminance<>{.cdm2 = 0}, Luminance<>{.cdm2 = 10});
  EXPECT_NEAR(bright.system_gamma, 1.176, 1e-12);
}

TEST(Hlg, GammaJumpsWhereTheFormulasDoNotMeet) {
  // 0.011 and 0.007 as the header says; 400 and 2000 themselves take the basic formula.
  const auto gamma = [](double peak) { return hlg_system_gamma(Luminance<>{.cdm2 = peak}); };
  EXPECT_NEAR(gamma(399.999999) - gamma(400), 0.011, 5e-4);
  EXPECT_NEAR(gamma(2000.000001) - gamma(2000), 0.007, 5e-4);
}

TEST(Hlg, SuperWhiteGoesOn) {
  EXPECT_NEAR(oetf(1.65), 1.09, 2e-3);
  EXPECT_GT(grey(1.09, display(1000, 0)), 1700);
}

// Any colour, any display: what goes in comes out, both editions.
RC_GTEST_PROP(Hlg, EotfIsUndone, ()) {
  const auto unit = [] { return (1 + *rc::gen::inRange(0, 1 << 20)) / double((1 << 20) + 1); };
  const HlgDisplay<> d = display(std::pow(10.0, 2 + 2 * unit()), 0.1 * unit(),
                                 *rc::gen::element(Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2));
  const SignalRgb<> in{.r = 0.05 + unit(), .g = 0.05 + unit(), .b = 0.05 + unit()};
  const SignalRgb<> out = hlg_inverse_eotf(hlg_eotf(in, d), d);
  RC_ASSERT(std::fabs(out.r - in.r) <= 1e-9 * in.r);
  RC_ASSERT(std::fabs(out.g - in.g) <= 1e-9 * in.g);
  RC_ASSERT(std::fabs(out.b - in.b) <= 1e-9 * in.b);
}

}  // namespace
}  // namespace provenit::colour
