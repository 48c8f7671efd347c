#include "provenit/colour/daylight.h"

#include <gtest/gtest.h>
#include <lcms2.h>

#include <limits>

#include "provenit/colour/illuminant.h"
#include "provenit/colour/reflectance.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {
namespace {

TEST(Daylight, AgreesWithLittleCms) {  // lcms2 2.14, cmsWhitePointFromTemp
  for (double t = 4000; t <= 25000; t += 123) {
    cmsCIExyY other;
    ASSERT_TRUE(cmsWhitePointFromTemp(&other, t));
    const auto xy = daylight_xy({t}).value();
    EXPECT_NEAR(xy.x, other.x, 1e-7) << t;  // its coefficients differ in the last printed digit
    EXPECT_NEAR(xy.y, other.y, 1e-7) << t;
  }
}

TEST(Daylight, SpectrumHasTheChromaticityOfItsTemperature) {
  for (const double t : {4000.0, 5003.0, 6504.0, 9300.0, 20000.0}) {
    const auto wanted = daylight_xy({t}).value();
    const auto c = xyz_of_illuminant(daylight_spectrum({t}, -1).value(), Observer::cie1931_2deg).value();
    const auto xy = xy_from_xyz(c);
    EXPECT_NEAR(xy.x, wanted.x, 1.2e-4) << t;  // the components carry one decimal
    EXPECT_NEAR(xy.y, wanted.y, 1.2e-4) << t;
  }
}

// D65 is daylight at 6500 K x 1.4388/1.438, tabulated; the file of components carries one decimal.
TEST(Daylight, RebuildsD65) {
  const auto rebuilt = daylight_spectrum({6500 * 1.4388 / 1.438}).value();
  const auto d65 = illuminant("D65").value();
  for (int i = 0; i < d65.size(); ++i) {
    if (static_cast<int>(d65.wavelength_nm(i)) % 10 != 0) continue;
    EXPECT_NEAR(rebuilt.values[i], d65.values[i], 5.0001e-4) << d65.wavelength_nm(i);
  }
}

TEST(Daylight, HasItsRange) {
  for (const double t : {3999.0, 25001.0, std::numeric_limits<double>::quiet_NaN()}) {
    ASSERT_FALSE(daylight_xy({t}));
    EXPECT_EQ(daylight_xy({t}).error().code, ErrorCode::out_of_range);
    EXPECT_FALSE(daylight_spectrum({t}));
  }
  // The two branches meet at 7000 K within the digits they are printed with.
  EXPECT_NEAR(daylight_xy({7000}).value().x, daylight_xy({7000.001}).value().x, 2e-6);
}

}  // namespace
}  // namespace provenit::colour
