#include "provenit/colour/spectrum_xyz.h"

#include <gtest/gtest.h>

#include <cmath>

#include "provenit/colour/dual.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {
namespace {

double bell(double nm, double mean, double fwhm) {
  return std::exp(-4 * std::log(2) * (nm - mean) * (nm - mean) / (fwhm * fwhm));
}
Spectrum bells(double start, double step, double end) {
  Spectrum s{start, step, {}};
  for (double nm = start; nm <= end; nm = s.wavelength_nm(s.size()))
    s.values.push_back(0.01 * bell(nm, 455, 22) + 0.004 * bell(nm, 530, 35) + 0.006 * bell(nm, 635, 32));
  return s;
}

TEST(SpectrumXyz, EqualEnergyGivesTheTablesSums) {
  for (const auto observer : kObservers) {
    const auto range = range_of(observer);
    const int count = static_cast<int>(range.last_nm - range.first_nm) + 1;
    const Spectrum ones{range.first_nm, 1, std::vector<double>(static_cast<std::size_t>(count), 1.0)};
    const auto result = xyz_from_radiance(ones, {.observer = observer}).value();
    const auto sums = table_sums(observer);
    EXPECT_NEAR(result.xyz.Y, 683 * sums.y, 1e-9 * result.xyz.Y);
    EXPECT_EQ(result.missing.y, 0);
    EXPECT_NEAR(sums.x / sums.y, 1, 4e-4) << "x, y, z of the equal-energy white are alike by construction";
    EXPECT_NEAR(sums.z / sums.y, 1, 4e-4);
  }
}

// The photometric definition: 555 nm carries 683 lm/W.
TEST(SpectrumXyz, ALineAt555HasTheFullEfficacy) {
  Spectrum line{360, 1, std::vector<double>(471, 0.0)};
  line.values[555 - 360] = 2;
  EXPECT_NEAR(xyz_from_radiance(line).value().xyz.Y, 2 * 683.0, 1e-9);
}

TEST(SpectrumXyz, CoarseStepsComeCloseToOneNanometre) {
  const auto exact = xyz_from_radiance(bells(380, 1, 780)).value().xyz;
  const auto of = [&](double step, Summation summation) {
    return xyz_from_radiance(bells(380, step, 780), {.summation = summation}).value().xyz;
  };
  const auto error = [&](const AbsoluteXyz<>& c) {
    return std::max({std::abs(c.X / exact.X - 1), std::abs(c.Y / exact.Y - 1), std::abs(c.Z / exact.Z - 1)});
  };
  EXPECT_LT(error(of(2, Summation::sprague)), 2e-6);
  EXPECT_LT(error(of(5, Summation::sprague)), 3e-5);
  EXPECT_LT(error(of(4, Summation::linear)), 1.5e-2);
  EXPECT_GT(error(of(4, Summation::linear)), 10 * error(of(4, Summation::sprague)));
  EXPECT_LT(error(of(0.5, Summation::sprague)), 1e-4) << "finer than the table: summed as it is";
  EXPECT_LT(error(of(4, Summation::native)), 2e-3);
}

TEST(SpectrumXyz, StepsThatAreNoWholeNanometresWork) {
  const auto exact = xyz_from_radiance(bells(380, 1, 780)).value().xyz;
  for (const double step : {10.0 / 3, 2.5, 0.8}) {
    const auto c = xyz_from_radiance(bells(380.3, step, 780)).value().xyz;
    EXPECT_NEAR(c.Y / exact.Y, 1, 1e-4) << step;
  }
}

TEST(SpectrumXyz, TheMissingPartOfTheObserverIsReported) {
  const auto whole = xyz_from_radiance(bells(360, 1, 830)).value();
  EXPECT_EQ(whole.missing.x + whole.missing.y + whole.missing.z, 0);
  const auto cut = xyz_from_radiance(bells(400, 1, 700)).value();
  double below_400 = 0;  // from the table itself
  const auto sums = table_sums(Observer::cie1931_2deg);
  for (int nm = 360; nm < 400; ++nm) below_400 += matching_functions(Observer::cie1931_2deg, {.nm = 1.0 * nm}).z;
  EXPECT_NEAR(cut.missing.z, below_400 / sums.z, 1e-12);
  EXPECT_GT(cut.missing.z, 1e-3);
  EXPECT_LT(cut.missing.y, 1e-3);
}

TEST(SpectrumXyz, LightOutsideTheObserverCountsAsNothing) {
  Spectrum infrared{840, 5, std::vector<double>(20, 1.0)};
  const auto result = xyz_from_radiance(infrared).value();
  EXPECT_EQ(result.xyz.Y, 0);
  EXPECT_EQ(result.missing.y, 1);
}

TEST(SpectrumXyz, WeightsCarryDerivatives) {
  const auto s = bells(380, 5, 780);
  const auto weights = spectral_weights(s.start_nm, s.step_nm, s.size(), {.bandpass_correction = true}).value();
  std::vector<Dual<1>> values(s.values.begin(), s.values.end());
  values[30].slope[0] = 1;
  const auto c = weighted_xyz<Dual<1>>(weights, values);
  const auto corrected = bandpass_corrected(s).value();
  EXPECT_NEAR(c.Y.value, xyz_from_radiance(corrected).value().xyz.Y, 1e-12 * c.Y.value);
  Spectrum nudged = s;
  nudged.values[30] += 1e-3;
  const double by_difference =
      (xyz_from_radiance(nudged, {.bandpass_correction = true}).value().xyz.Y - c.Y.value) / 1e-3;
  EXPECT_NEAR(c.Y.slope[0] / by_difference, 1, 1e-9);
}

TEST(SpectrumXyz, ObserversAreNamed) {
  for (const auto observer : kObservers) EXPECT_EQ(observer_named(name_of(observer)), observer);
  EXPECT_FALSE(observer_named("CIE 1931"));
}

TEST(SpectrumXyz, BadInputIsRefused) {
  EXPECT_FALSE(spectral_weights(380, 5, 1));
  EXPECT_FALSE(spectral_weights(380, 5, 81, {.km_lm_per_w = 0}));
  EXPECT_FALSE(spectral_weights(380, 5, 5, {.summation = Summation::sprague}));
  EXPECT_TRUE(spectral_weights(380, 5, 5, {.summation = Summation::linear}));
  EXPECT_FALSE(xyz_from_radiance({380, 5, {1, INFINITY, 1}}));
}

}  // namespace
}  // namespace provenit::colour
