#include "provenit/colour/spectrum.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace provenit::colour {
namespace {

Spectrum sampled(double start, double step, int count, double (*f)(double)) {
  Spectrum s{start, step, {}};
  for (int i = 0; i < count; ++i) s.values.push_back(f(s.wavelength_nm(i)));
  return s;
}

double quartic(double nm) {
  const double x = (nm - 550) / 100;
  return 1 + x * (0.5 + x * (-0.7 + x * (0.3 - 0.2 * x)));
}
double bell(double nm) {
  return std::exp(-4 * std::log(2) * (nm - 545) * (nm - 545) / (60 * 60));
}

// The boundary points are exact for straight lines only, so two intervals at either end are less good.
TEST(Spectrum, SpragueReproducesAPolynomialOfFourthDegree) {
  const auto s = sampled(400, 10, 31, quartic);
  const auto fine = interpolated(s, 400, 1, 301, Interpolation::sprague).value();
  for (int i = 0; i < fine.size(); ++i)
    EXPECT_NEAR(fine.values[i], quartic(fine.wavelength_nm(i)), i < 20 || i > 280 ? 6e-3 : 1e-12) << i;
  const auto line = sampled(400, 10, 8, [](double nm) { return 3 * nm - 100; });
  const auto fine_line = interpolated(line, 400, 1, 71, Interpolation::sprague).value();
  for (int i = 0; i < fine_line.size(); ++i)
    EXPECT_NEAR(fine_line.values[i], 3 * fine_line.wavelength_nm(i) - 100, 1e-9) << i;
}

// Worked values in the documentation of colour-science/colour (BSD-3-Clause), class SpragueInterpolator; the boundary
// coefficients of CIE 167:2005 Table V take part in both.
TEST(Spectrum, SpragueAgreesWithAnotherLibrary) {
  const Spectrum s{400, 10, {5.9200, 9.3700, 10.8135, 4.5100, 69.5900, 27.8007, 86.0500}};
  const auto at = [&](double steps) {
    return interpolated(s, 400 + 10 * steps, 1, 1, Interpolation::sprague).value().values[0];
  };
  EXPECT_NEAR(at(0.5), 7.2185025, 1e-7);
  EXPECT_NEAR(at(0.25), 6.7295161, 1e-7);
  EXPECT_NEAR(at(0.75), 7.8140625, 1e-7);
}

TEST(Spectrum, SpragueIsFarCloserThanLinearOnASmoothSpectrum) {
  const auto s = sampled(400, 10, 31, bell);
  const auto sprague = interpolated(s, 400, 1, 301, Interpolation::sprague).value();
  const auto linear = interpolated(s, 400, 1, 301, Interpolation::linear).value();
  double by_sprague = 0, by_linear = 0;
  for (int i = 0; i < sprague.size(); ++i) {
    const double truth = bell(sprague.wavelength_nm(i));
    by_sprague = std::max(by_sprague, std::abs(sprague.values[i] - truth));
    by_linear = std::max(by_linear, std::abs(linear.values[i] - truth));
  }
  EXPECT_LT(by_sprague, 3e-4);
  EXPECT_GT(by_linear, 20 * by_sprague);
}

TEST(Spectrum, SamplesAreKept) {
  std::mt19937 random(7);
  Spectrum s{380, 3.3, {}};
  for (int i = 0; i < 40; ++i) s.values.push_back(static_cast<double>(random() % 1000));
  for (const auto method : {Interpolation::linear, Interpolation::sprague}) {
    const auto fine = interpolated(s, 380, 1.1, 118, method).value();
    for (int i = 0; i < s.size(); ++i) EXPECT_EQ(fine.values[3 * i], s.values[i]);
  }
}

TEST(Spectrum, TapsAddUpToOne) {
  for (const int samples : {6, 7, 12})
    for (double position = 0; position <= samples - 1; position += 0.09) {
      const auto taps = interpolation_taps(samples, position, Interpolation::sprague);
      double sum = 0;
      for (int k = 0; k < taps.count; ++k) sum += taps.weight[k];
      EXPECT_NEAR(sum, 1, 1e-12) << samples << " " << position;
      EXPECT_GE(taps.first, 0);
      EXPECT_LE(taps.first + taps.count, samples);
    }
}

TEST(Spectrum, NothingIsExtrapolated) {
  const auto s = sampled(400, 10, 31, bell);
  for (const double start : {399.0, 400.5}) {
    const auto outside = interpolated(s, start, 1, 301, Interpolation::linear);
    ASSERT_FALSE(outside);
    EXPECT_EQ(outside.error().code, ErrorCode::out_of_range);
    EXPECT_NE(outside.error().message.find("400 to 700 nm"), std::string::npos);
  }
}

TEST(Spectrum, BadSpectraAreRefusedByName) {
  const auto field = [](const Spectrum& s) { return validate(s).error().where.field; };
  EXPECT_EQ(field({0, 1, {1, 2}}), "start");
  EXPECT_EQ(field({400, 0, {1, 2}}), "step");
  EXPECT_EQ(field({400, 1, {1}}), "values");
  EXPECT_EQ(field({400, 1, {1, NAN}}), "values");
  EXPECT_TRUE(validate({400, 1, {1, -1}})) << "readings near the dark floor are negative";
  EXPECT_FALSE(interpolated({400, 1, {1, 2, 3, 4, 5}}, 400, 0.5, 3, Interpolation::sprague)) << "five samples";
  EXPECT_FALSE(interpolated({400, 1, {1, 2}}, 400, 0.5, 0, Interpolation::linear));
}

// A triangular bandpass as wide as the step widens a bell by a known amount; the correction takes most of it back.
TEST(Spectrum, BandpassCorrectionUndoesATriangularBandpass) {
  Spectrum narrow{450, 5, {}}, widened{450, 5, {}};
  for (int i = 0; i <= 40; ++i) {
    const double nm = narrow.wavelength_nm(i);
    narrow.values.push_back(bell(nm));
    double sum = 0;
    for (int k = -50; k <= 50; ++k) sum += (1 - std::abs(k) / 50.0) / 50 * bell(nm + 5 * k / 50.0);
    widened.values.push_back(sum);
  }
  const auto corrected = bandpass_corrected(widened).value();
  double before = 0, after = 0, area_before = 0, area_after = 0;
  for (int i = 1; i + 1 < narrow.size(); ++i) {
    before = std::max(before, std::abs(widened.values[i] - narrow.values[i]));
    after = std::max(after, std::abs(corrected.values[i] - narrow.values[i]));
  }
  for (int i = 0; i < narrow.size(); ++i) {
    area_before += widened.values[i];
    area_after += corrected.values[i];
  }
  EXPECT_GT(before, 3e-3);
  EXPECT_LT(after, before / 40);
  EXPECT_NEAR(area_after, area_before, 1e-12) << "the correction moves light, it makes none";
}

}  // namespace
}  // namespace provenit::colour
