#include "provenit/colour/reflectance.h"

#include <gtest/gtest.h>

#include "provenit/colour/illuminant.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {
namespace {

TEST(Reflectance, AGreyHasTheChromaticityOfTheLight) {
  const Spectrum grey{380, 400, {0.2, 0.2}};
  ReflectanceSum sum;
  sum.reflectance_interpolation = Interpolation::linear;
  for (const auto name : illuminant_names()) {
    const auto light = illuminant(name).value();
    const auto c = xyz_from_reflectance(grey, light, Observer::cie1964_10deg, sum).value();
    const auto w = xyz_of_illuminant(light, Observer::cie1964_10deg).value();
    EXPECT_NEAR(w.Y, 1, 1e-12);
    EXPECT_NEAR(c.X, 0.2 * w.X, 1e-12) << name;
    EXPECT_NEAR(c.Z, 0.2 * w.Z, 1e-12) << name;
  }
}

// CIE 15:2004 table T.3, 2 degree observer (as commonly reprinted; from memory). They come out at 1 nm, 360-780 nm,
// with the 5 nm tables interpolated smoothly; D65's own interpolation is linear.
TEST(Reflectance, WhitesAgreeWithThePublishedOnes) {
  const struct {
    const char* name;
    double X, Z;
  } whites[] = {{"A", 1.09850, 0.35585},   {"C", 0.98074, 1.18232},   {"D50", 0.96422, 0.82521},
                {"D55", 0.95682, 0.92149}, {"D65", 0.95047, 1.08883}, {"D75", 0.94972, 1.22638}};
  for (const auto& w : whites) {
    ReflectanceSum sum = kOneNanometreSum;
    if (std::string_view(w.name) != "D65") sum.illuminant_interpolation = Interpolation::sprague;
    const auto c = xyz_of_illuminant(illuminant(w.name).value(), Observer::cie1931_2deg, sum).value();
    EXPECT_NEAR(c.X, w.X, 1.6e-5) << w.name;
    EXPECT_NEAR(c.Z, w.Z, 1.6e-5) << w.name;
  }
}

TEST(Reflectance, OneNanometreAndFiveNanometresAgreeOnSmoothLight) {
  const auto sample = test_colour_sample("TCS09").value();
  const auto d65 = illuminant("D65").value();
  const auto coarse = xyz_from_reflectance(sample, d65, Observer::cie1931_2deg, kFiveNanometreSum).value();
  const auto fine = xyz_from_reflectance(sample, d65, Observer::cie1931_2deg, kOneNanometreSum).value();
  EXPECT_NEAR(coarse.X, fine.X, 2e-5);
  EXPECT_NEAR(coarse.Y, fine.Y, 2e-5);
  EXPECT_NE(coarse.Y, fine.Y);
}

TEST(Reflectance, AMissingSampleIsNamed) {
  const auto d65 = illuminant("D65").value();
  const auto sample = test_colour_sample("TCS01").value();
  const auto too_wide = xyz_from_reflectance(sample, d65, Observer::cie1931_2deg, {360, 800, 5, {}, {}});
  ASSERT_FALSE(too_wide);
  EXPECT_EQ(too_wide.error().code, ErrorCode::out_of_range);
  EXPECT_NE(too_wide.error().message.find("illuminant has no sample at 785 nm"), std::string::npos);
  const auto too_fine = xyz_from_reflectance(sample, d65, Observer::cie1931_2deg, {380, 780, 1, {}, {}});
  ASSERT_FALSE(too_fine);
  EXPECT_NE(too_fine.error().message.find("reflectance has no sample at 381 nm"), std::string::npos);
}

TEST(Reflectance, BadSumsAreRefused) {
  const auto d65 = illuminant("D65").value();
  EXPECT_FALSE(xyz_of_illuminant(d65, Observer::cie1931_2deg, {380, 781, 5, {}, {}}));
  EXPECT_FALSE(xyz_of_illuminant(d65, Observer::cie1931_2deg, {380, 780, 0, {}, {}}));
  EXPECT_FALSE(xyz_of_illuminant(d65, Observer::cie1931_2deg, {780, 380, 5, {}, {}}));
  const Spectrum dark{380, 5, std::vector<double>(81, 0.0)};
  EXPECT_FALSE(xyz_of_illuminant(dark, Observer::cie1931_2deg));
}

}  // namespace
}  // namespace provenit::colour
