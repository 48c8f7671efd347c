#include "provenit/colour/transfer_sdr.h"

#include <gtest/gtest.h>

#include "curve_properties.h"

namespace provenit::colour {
namespace {

Curve bt1886(double peak, double black) {
  const Bt1886Display<> d{.peak = {.cdm2 = peak}, .black = {.cdm2 = black}};
  return {.name = "bt1886",
          .forward = [d](double v) { return bt1886_eotf(Signal<>{.value = v}, d).cdm2; },
          .inverse = [d](double l) { return bt1886_inverse_eotf(Luminance<>{.cdm2 = l}, d).value; },
          .round_trip_from = 1e-4};
}
Curve oetf(const OetfConstants& k) {
  return {.name = "bt709 oetf",
          .forward = [k](double e) { return bt709_oetf(Relative<>{.value = e}, k).value; },
          .inverse = [k](double v) { return bt709_inverse_oetf(Signal<>{.value = v}, k).value; }};
}
Curve srgb() {
  return {.name = "srgb",
          .forward = [](double v) { return srgb_eotf(Signal<>{.value = v}).value; },
          .inverse = [](double l) { return srgb_inverse_eotf(Relative<>{.value = l}).value; }};
}
Curve power(double exponent) {
  return {.name = "power",
          .forward = [=](double v) { return power_eotf(Signal<>{.value = v}, exponent).value; },
          .inverse = [=](double l) { return power_inverse_eotf(Relative<>{.value = l}, exponent).value; }};
}
Curve reversed(const Curve& c) {
  Curve r = c;
  r.name += ", inverse";
  std::swap(r.forward, r.inverse);
  return r;
}

TEST(Sdr, CurvesAreMonotoneFiniteAndUndoEachOther) {
  for (const Curve& c : {bt1886(100, 0), bt1886(100, 0.01), bt1886(300, 0.1), oetf(bt709_constants),
                         oetf(bt2020_12bit_constants), oetf(bt2020_exact_constants), srgb(), power(2.2), power(2.6)})
    expect_curve(c);
  for (const Curve& c : {oetf(bt2020_exact_constants), srgb(), power(2.4)}) {
    expect_curve(reversed(c));
  }
  // With the printed constants some signals have no light; the inverse stays monotone over the gap.
  expect_monotone_and_finite(reversed(oetf(bt709_constants)));
  expect_monotone_and_finite(reversed(oetf(bt2020_12bit_constants)));
}

TEST(Sdr, Bt1886MatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.1886 (03/2011) Annex 1, worked values bt1886_eotf (rel 1e-10).
  const struct {
    double v, peak, black, cdm2;
  } rows[] = {{0, 100, 0, 0},       {0.25, 100, 0, 3.58968235936573},    {0.75, 100, 0, 50.1356941302938},
              {0, 100, 0.01, 0.01}, {0.1, 100, 0.01, 0.609147293372496}, {0.5, 100, 0.01, 19.940927290062},
              {1, 100, 0.01, 100},  {0.1, 100, 0.1, 1.06378562696538},   {0.5, 120, 0.05, 24.9248701984407}};
  for (const auto& row : rows)
    EXPECT_NEAR(bt1886(row.peak, row.black).forward(row.v), row.cdm2, 1e-10 * row.cdm2) << row.v;
}

TEST(Sdr, Bt1886Outside) {
  const Curve c = bt1886(100, 0.01);
  EXPECT_EQ(c.forward(-0.05), 0);
  EXPECT_GT(c.forward(1.09), 120);
  EXPECT_EQ(c.forward(c.inverse(-1)), 0);
  const Bt1886Display<> d{.peak = {.cdm2 = 100}, .black = {.cdm2 = 0.01}};
  const AbsoluteRgb<> light = bt1886_eotf(SignalRgb<>{.r = 1, .g = 0.5, .b = 0}, d);
  EXPECT_NEAR(light.r, 100, 1e-10);
  EXPECT_EQ(light.g, c.forward(0.5));
  EXPECT_NEAR(light.b, 0.01, 1e-14);
  EXPECT_NEAR(bt1886_inverse_eotf(light, d).g, 0.5, 1e-14);
}

TEST(Sdr, OetfAndSrgbMatchTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.709-6 and IEC 61966-2-1:1999, worked values (abs 1e-12).
  const Curve o = oetf(bt709_constants), s = srgb();
  EXPECT_NEAR(o.forward(0.01), 0.045, 1e-12);
  EXPECT_NEAR(o.forward(0.018), 0.0812479440351405, 1e-12);
  EXPECT_NEAR(o.forward(0.04), 0.159181243690747, 1e-12);
  EXPECT_NEAR(o.forward(0.18), 0.40900772886415, 1e-12);
  EXPECT_NEAR(o.forward(0.5), 0.705515089922121, 1e-12);
  EXPECT_NEAR(o.forward(1), 1, 1e-12);
  EXPECT_NEAR(s.forward(0.01), 0.000773993808049536, 1e-12);
  EXPECT_NEAR(s.forward(0.04), 0.00309597523219814, 1e-12);
  EXPECT_NEAR(s.forward(0.18), 0.0272117809513814, 1e-12);
  EXPECT_NEAR(s.forward(0.5), 0.214041140482232, 1e-12);
  EXPECT_NEAR(s.forward(1), 1, 1e-12);
}

TEST(Sdr, OetfGapCountsAsItsEdge) {
  const Curve c = oetf(bt709_constants);
  EXPECT_EQ(c.inverse(0.0811), 0.018);  // between 4.5 x 0.018 and the start of the curved part, 0.08125
  EXPECT_LT(c.inverse(0.0809), 0.018);
  EXPECT_GT(c.inverse(0.0813), 0.018);
  EXPECT_LT(bt2020_exact_constants.alpha * std::pow(bt2020_exact_constants.beta, 0.45) -
                (bt2020_exact_constants.alpha - 1) - 4.5 * bt2020_exact_constants.beta,
            1e-12);
}

TEST(Sdr, SrgbPartsMissEachOtherByAsMuchAsStated) {
  const double v = 0.04045, jump = srgb().forward(std::nextafter(v, 1)) - srgb().forward(v);
  EXPECT_NEAR(12.92 * jump, 3e-8, 5e-9);  // as a signal
}

}  // namespace
}  // namespace provenit::colour
