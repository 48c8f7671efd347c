// Areas and coverages of named gamuts to the last digit are rows of data/reference/worked_values.csv (selfcheck); here
// are the properties.
#include "provenit/colour/gamut.h"

#include <gtest/gtest.h>

#include <array>

#include "provenit/colour/uncertainty.h"

namespace provenit::colour {
namespace {

using enum ChromaticityPlane;

TEST(Gamut, CoverageIsOneForItselfAndForWhatItHolds) {
  for (const auto plane : {xy, uv_prime}) {
    EXPECT_NEAR(gamut_coverage(plane, bt2020_primaries, bt2020_primaries), 1, 1e-15);
    EXPECT_NEAR(gamut_coverage(plane, bt2020_primaries, bt709_primaries), 1, 1e-15);
    EXPECT_NEAR(gamut_coverage(plane, bt709_primaries, bt2020_primaries),
                gamut_area_ratio(plane, bt709_primaries, bt2020_primaries), 1e-15);
  }
}

// P3's blue lies just outside BT.2020: standards that say "P3 inside BT.2020" are off by 2e-4.
TEST(Gamut, P3IsNotQuiteInsideBt2020) {
  EXPECT_LT(gamut_coverage(xy, bt2020_primaries, p3_d65_primaries), 0.99981);
  EXPECT_GT(gamut_coverage(xy, bt2020_primaries, p3_d65_primaries), 0.99979);
}

TEST(Gamut, TheTwoPlanesGiveDifferentFigures) {
  EXPECT_GT(std::abs(gamut_coverage(xy, bt709_primaries, bt2020_primaries) -
                     gamut_coverage(uv_prime, bt709_primaries, bt2020_primaries)),
            0.05);
}

TEST(Gamut, MorePrimariesMakeAHull) {
  const std::array<Xy<>, 4> four{Xy<>{0.64, 0.33}, Xy<>{0.30, 0.60}, Xy<>{0.15, 0.06}, Xy<>{0.10, 0.40}};
  const auto hull = gamut_polygon<double>(xy, four);
  EXPECT_EQ(hull.size(), 4U);
  EXPECT_GT(area(hull), gamut_area(xy, bt709_primaries));
  EXPECT_NEAR(polygon_coverage(hull, gamut_polygon(xy, bt709_primaries)), 1, 1e-14);
}

TEST(Gamut, UncertaintyFlowsFromAMeasuredPrimary) {
  Sources sources;
  const auto ux = sources.add({.name = "x of red", .standard_uncertainty = 0.001});
  Primaries<Uncertain> measured{.red = {Uncertain(0.675, ux), 0.322}, .green = {0.27, 0.68}, .blue = {0.151, 0.058}};
  const auto coverage = gamut_coverage(xy, measured, p3_d65_primaries);
  Primaries<> nudged{.red = {0.676, 0.322}, .green = {0.27, 0.68}, .blue = {0.151, 0.058}};
  EXPECT_NEAR(standard_uncertainty(coverage, sources),
              std::abs(gamut_coverage(xy, nudged, p3_d65_primaries) - coverage.value()), 2e-5);
  EXPECT_GT(standard_uncertainty(coverage, sources), 5e-4);
}

}  // namespace
}  // namespace provenit::colour
