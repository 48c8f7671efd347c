#include "provenit/colour/transfer_pq.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "curve_properties.h"
#include "provenit/colour/quantise.h"

namespace provenit::colour {
namespace {

double eotf(double e) {
  return pq_eotf(Signal<>{.value = e}).cdm2;
}
double inverse_eotf(double l) {
  return pq_inverse_eotf(Luminance<>{.cdm2 = l}).value;
}
double ootf(double e) {
  return pq_ootf(Relative<>{.value = e}).cdm2;
}
double inverse_ootf(double l) {
  return pq_inverse_ootf(Luminance<>{.cdm2 = l}).value;
}

// The constants once more as decimals, from Rec. ITU-R BT.2100-3 (they are exact in binary).
TEST(Pq, ConstantsAreTheDocuments) {
  EXPECT_EQ(pq::m1, 0.1593017578125);
  EXPECT_EQ(pq::m2, 78.84375);
  EXPECT_EQ(pq::c1, 0.8359375);
  EXPECT_EQ(pq::c2, 18.8515625);
  EXPECT_EQ(pq::c3, 18.6875);
  EXPECT_EQ(pq::c1, pq::c3 - pq::c2 + 1);
}

TEST(Pq, CurvesAreMonotoneFiniteAndUndoEachOther) {
  expect_curve({.name = "pq eotf", .forward = eotf, .inverse = inverse_eotf, .round_trip_from = 1e-6});
  expect_curve({.name = "pq inverse eotf", .forward = inverse_eotf, .inverse = eotf, .low = 0, .high = 10000});
  expect_curve({.name = "pq ootf", .forward = ootf, .inverse = inverse_ootf});
}

TEST(Pq, RoundTripHoldsOverTheWholeStatedRangeOfLuminance) {
  double worst = 0;
  for (int i = 0; i < kPoints; ++i) {
    const double l = 1e4 * std::pow(10.0, -34.0 * i / (kPoints - 1));
    worst = std::max(worst, std::fabs(eotf(inverse_eotf(l)) / l - 1));
  }
  EXPECT_LE(worst, 1e-9);
}

TEST(Pq, MatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.2100-3 (SMPTE ST 2084:2014), worked values pq_eotf (rel 1e-9) and pq_inverse_eotf (abs 1e-12).
  const struct {
    double e, cdm2;
  } forward[] = {{0, 0},
                 {0.01, 0.00231013912369796},
                 {0.1, 0.324565591464485},
                 {0.25, 5.15417600983305},
                 {0.38, 25.9905789277369},
                 {0.5, 92.2457089940641},
                 {0.58, 201.666262176921},
                 {0.75, 983.377855587098},
                 {0.9, 3905.64465283453},
                 {1, 10000}};
  for (const auto& row : forward) EXPECT_NEAR(eotf(row.e), row.cdm2, 1e-9 * row.cdm2) << row.e;
  const struct {
    double cdm2, e;
  } backward[] = {{0, 7.30955902578397e-7},
                  {0.0001, 0.00166718821785979},
                  {0.005, 0.015076399042368},
                  {0.1, 0.0623368656626959},
                  {1, 0.14994573210018},
                  {26, 0.380032274333404},
                  {100, 0.508078421517395},
                  {203, 0.580688881041608},
                  {1000, 0.751827096247042},
                  {4000, 0.90257239331094},
                  {10000, 1}};
  for (const auto& row : backward) EXPECT_NEAR(inverse_eotf(row.cdm2), row.e, 1e-12) << row.cdm2;
}

TEST(Pq, OotfMatchesAnotherLibrary) {
  // colour-science/colour, BT.2100 PQ OOTF (its composition of BT.709 and BT.1886), to its 7 decimals.
  EXPECT_NEAR(ootf(0.1), 779.98836083411584, 1e-7);
  EXPECT_NEAR(ootf(1.0), 9999.9937236739243, 1e-7);
  EXPECT_NEAR(inverse_ootf(779.98836083411584), 0.1, 1e-12);
  EXPECT_EQ(ootf(0), 0);
}

TEST(Pq, ZeroLightIsACodeOfBlackThoughTheSignalIsNotZero) {
  EXPECT_GT(inverse_eotf(0), 7e-7);
  for (int bits : {8, 10, 12}) {
    EXPECT_EQ(quantise(pq_inverse_eotf(Luminance<>{.cdm2 = 0}), bits, Range::full).value, 0);
    EXPECT_EQ(quantise(pq_inverse_eotf(Luminance<>{.cdm2 = 0}), bits, Range::narrow).value, 16 << (bits - 8));
  }
  EXPECT_EQ(eotf(0), 0);
  EXPECT_EQ(eotf(7.3e-7), 0);  // below c1^m2
  EXPECT_GT(eotf(7.32e-7), 0);
}

TEST(Pq, OutsideItsRange) {
  EXPECT_EQ(eotf(-0.1), 0);
  EXPECT_EQ(eotf(1.0902), 10000);                    // 10-bit narrow code 1019
  EXPECT_EQ(inverse_eotf(-0.003), inverse_eotf(0));  // dark subtraction
  EXPECT_GT(inverse_eotf(12000), inverse_eotf(11000));
  EXPECT_GT(inverse_eotf(11000), 1);
  EXPECT_LT(inverse_eotf(1e12), 1.993);
}

TEST(Pq, RgbGoesChannelByChannel) {
  const AbsoluteRgb<> light = pq_eotf(SignalRgb<>{.r = 0.58, .g = 0.1, .b = 1});
  EXPECT_EQ(light.r, eotf(0.58));
  EXPECT_EQ(light.g, eotf(0.1));
  EXPECT_EQ(light.b, eotf(1));
  const SignalRgb<> signal = pq_inverse_eotf(light);
  EXPECT_NEAR(signal.r, 0.58, 1e-13);
  EXPECT_NEAR(signal.g, 0.1, 1e-13);
}

// A just larger luminance never gets a smaller code, and the code's luminance lies within half a code step.
RC_GTEST_PROP(Pq, CodesStayWithinHalfAStep, ()) {
  const double e = 1e-4 + (1 - 1e-4) * *rc::gen::inRange(0, 1 << 24) / (1 << 24);
  const int bits = *rc::gen::element(8, 10, 12, 16);
  const Range range = *rc::gen::element(Range::narrow, Range::full);
  const Luminance<> light = pq_eotf(Signal<>{.value = e});
  const Signal<> back = dequantise(quantise(pq_inverse_eotf(light), bits, range));
  const double half_step = 0.5 / (range == Range::full ? (1 << bits) - 1 : 219 << (bits - 8));
  RC_ASSERT(std::fabs(back.value - e) <= half_step + 1e-12);
}

}  // namespace
}  // namespace provenit::colour
