#include "provenit/colour/adaptation.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "provenit/colour/primaries.h"

namespace provenit::colour {
namespace {

constexpr AdaptationTransform all[] = {AdaptationTransform::bradford, AdaptationTransform::cat16,
                                       AdaptationTransform::cat02};

void expect_xyz(const RelativeXyz<>& c, double X, double Y, double Z, double tolerance) {
  EXPECT_NEAR(c.X, X, tolerance);
  EXPECT_NEAR(c.Y, Y, tolerance);
  EXPECT_NEAR(c.Z, Z, tolerance);
}

TEST(Adaptation, MatchesTheDefinitionInOtherLibraries) {
  // Worked values chromatic_adaptation (abs 1e-6; held to 1e-9) and chromatic_adaptation_matrix (abs 1e-9): von Kries
  // in the sharpened space, agreeing with colour-science/colour 0.4.6.
  const auto adapt = [](AdaptationTransform t, const RelativeXyz<>& c, const Xy<>& from, const Xy<>& to) {
    return adapted(c, adaptation_matrix(t, white_xyz(from), white_xyz(to)));
  };
  const RelativeXyz<> skin{.X = 0.20654008, .Y = 0.12197225, .Z = 0.05136952};
  expect_xyz(adapt(AdaptationTransform::bradford, skin, d65_video, d50), 0.216660031997376, 0.126047772639759,
             0.0385506781630505, 1e-9);
  expect_xyz(adapt(AdaptationTransform::cat16, skin, d65_video, d50), 0.211993263949057, 0.122369931058096,
             0.0381000849791088, 1e-9);
  expect_xyz(adapt(AdaptationTransform::cat16, {.X = 0.6, .Y = 0.5, .Z = 0.2}, dci_white, d65_video), 0.62452311420107,
             0.501031766199768, 0.230067885495832, 1e-9);
  expect_xyz(adapt(AdaptationTransform::cat02, skin, d65_video, {.x = 0.44757, .y = 0.40745}), 0.253305303003464,
             0.13765138225072, 0.0154330715440623, 1e-9);
  const std::array<double, 9> m{1.047929792545,       0.0229468706016095, -0.0501922662892052,
                                0.0296278087700557,   0.99043442675388,   -0.0170737990634188,
                                -0.00924304064620452, 0.0150551914902982, 0.751874281428137};
  const Matrix3<> ours = adaptation_matrix(AdaptationTransform::bradford, white_xyz(d65_video), white_xyz(d50));
  for (std::size_t i = 0; i < 9; ++i) EXPECT_NEAR(ours(i / 3, i % 3), m[i], 1e-9) << i;
}

TEST(Adaptation, PartialMatchesTheTwoStepTransformInAnotherLibrary) {
  // colour-science/colour, tests of its Zhai and Luo (2018) transform, baseline 100 100 100, to 7 decimals.
  const RelativeXyz<> from{.X = 1.09850, .Y = 1, .Z = 0.35585}, to{.X = 0.95047, .Y = 1, .Z = 1.08883};
  const RelativeXyz<> c{.X = 48.900, .Y = 43.620, .Z = 6.250};
  expect_xyz(adapted(c, partial_adaptation_matrix(AdaptationTransform::cat02, from, 0.9407, to, 0.9800)), 39.18561644,
             42.15461798, 19.23672036, 1e-7);
  expect_xyz(adapted(c, partial_adaptation_matrix(AdaptationTransform::cat16, from, 0.9407, to, 0.9800)), 40.37398343,
             43.69426311, 20.51733764, 1e-7);
  expect_xyz(adapted(c, partial_adaptation_matrix(AdaptationTransform::cat02, from, 1, to, 1)), 38.72444735,
             42.09232891, 20.05297620, 1e-7);
}

TEST(Adaptation, MapsWhiteToWhiteAndBack) {
  for (const AdaptationTransform t : all) {
    const RelativeXyz<> a = white_xyz(dci_white), b = white_xyz(d65_video);
    const Matrix3<> there = adaptation_matrix(t, a, b), back = adaptation_matrix(t, b, a);
    expect_xyz(adapted(a, there), b.X, b.Y, b.Z, 1e-14);
    const Matrix3<> one = back * there, same = adaptation_matrix(t, a, a);
    for (std::size_t i = 0; i < 9; ++i) {
      EXPECT_NEAR(one(i / 3, i % 3), i % 4 == 0, 1e-14);
      EXPECT_NEAR(same(i / 3, i % 3), i % 4 == 0, 1e-15);
    }
    const Matrix3<> none = partial_adaptation_matrix(t, a, 0, b, 0), full = partial_adaptation_matrix(t, a, 1, b, 1);
    for (std::size_t i = 0; i < 9; ++i) {
      EXPECT_NEAR(none(i / 3, i % 3), i % 4 == 0, 1e-14);
      EXPECT_NEAR(full(i / 3, i % 3), there(i / 3, i % 3), 1e-14);
    }
  }
}

TEST(Adaptation, ScalesAbsoluteLightAlike) {
  const Matrix3<> m = adaptation_matrix(AdaptationTransform::cat16, white_xyz(d65_cie), white_xyz(d65_video));
  const AbsoluteXyz<> c = adapted(AbsoluteXyz<>{.X = 190, .Y = 200, .Z = 217}, m);
  const RelativeXyz<> r = adapted(RelativeXyz<>{.X = 0.95, .Y = 1, .Z = 1.085}, m);
  EXPECT_NEAR(c.X, 200 * r.X, 1e-11);
  EXPECT_NEAR(c.Z, 200 * r.Z, 1e-11);
}

TEST(Adaptation, DegreeGrowsWithLightAndFallsWithDarkSurrounds) {
  const auto degree = [](AdaptationSurround s, double l) { return adaptation_degree(s, Luminance<>{.cdm2 = l}); };
  // 1 - exp(-42/92)/3.6 at no light; 1 in the limit.
  EXPECT_NEAR(degree(AdaptationSurround::average, 0), 0.8240, 5e-5);
  EXPECT_NEAR(degree(AdaptationSurround::average, 1e5), 1, 1e-12);
  EXPECT_LT(degree(AdaptationSurround::dim, 20), degree(AdaptationSurround::average, 20));
  EXPECT_LT(degree(AdaptationSurround::dark, 20), degree(AdaptationSurround::dim, 20));
  EXPECT_LT(degree(AdaptationSurround::dark, 2), degree(AdaptationSurround::dark, 20));
}

}  // namespace
}  // namespace provenit::colour
