#include "provenit/colour/difference.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "provenit/base/text.h"

namespace provenit::colour {
namespace {

struct Pair {
  Lab<> a, b;
  double expected = 0;
};

/// Rows of data/reference/ciede2000_sharma34.csv (Sharma, Wu, Dalal 2005, Table 1).
std::vector<Pair> published_pairs() {
  const std::string text =
      read_file(std::string(PROVENIT_SOURCE_DIR) + "/data/reference/ciede2000_sharma34.csv").value();
  std::vector<Pair> pairs;
  for (const std::string_view line : split(text, '\n')) {
    const std::vector<std::string_view> fields = split(line, ',');
    if (line.starts_with('#') || fields.size() != 8 || fields[0] == "pair") continue;
    double v[8];
    for (std::size_t i = 0; i < 8; ++i) v[i] = parse_double(fields[i]).value();
    pairs.push_back({{v[1], v[2], v[3]}, {v[4], v[5], v[6]}, v[7]});
  }
  return pairs;
}

TEST(Ciede2000, MatchesAll34PublishedPairsToTheirLastDigitBothWaysRound) {
  const std::vector<Pair> pairs = published_pairs();
  ASSERT_EQ(pairs.size(), 34u);
  for (const Pair& p : pairs) {
    EXPECT_NEAR(ciede2000(p.a, p.b), p.expected, 0.5001e-4) << &p - pairs.data() + 1;
    EXPECT_NEAR(ciede2000(p.b, p.a), p.expected, 0.5001e-4) << &p - pairs.data() + 1;
  }
}

TEST(Ciede2000, MatchesTheDefinitionEvaluatedAt40Digits) {
  // ISO/CIE 11664-6:2014, worked values ciede2000 (abs 1e-9).
  EXPECT_NEAR(ciede2000(Lab<>{50, 20, -30}, Lab<>{52, 18, -28}), 2.26055547412758, 1e-9);
  EXPECT_NEAR(ciede2000(Lab<>{10, 1, 1}, Lab<>{12, -1, 2}), 3.34225398499053, 1e-9);
  EXPECT_NEAR(ciede2000(Lab<>{95, 0.5, -0.5}, Lab<>{94, 0, 0}), 1.06845999468745, 1e-9);
  EXPECT_NEAR(ciede2000(Lab<>{40, 60, -90}, Lab<>{42, 58, -85}), 2.16900358796924, 1e-9);
}

TEST(Ciede2000, OppositeHuesDoNotDependOnRounding) {
  // Pair 14 has hues exactly 180 degrees apart, where the mean hue jumps: 4.8045 on the one side, 4.7461 on the other.
  const Lab<> a{50, -0.0010, 2.4900};
  EXPECT_NEAR(ciede2000(a, Lab<>{50, 0.0010, -2.4900}), 4.8045, 5e-5);
  EXPECT_NEAR(ciede2000(a, Lab<>{50, 0.0010 - 1e-6, -2.4900}), 4.8045, 5e-5);
  EXPECT_NEAR(ciede2000(a, Lab<>{50, 0.0010 + 1e-6, -2.4900}), 4.7461, 5e-5);
  // At any hue and chroma, whatever the last bits of the two hues: opposite is the limit from below 180 degrees.
  for (int i = 0; i < 2000; ++i) {
    const double hue = 0.001 + 0.00314 * i, chroma = 5 + i % 17, other = 60 - 2.3 * (i % 19);
    const auto at = [](double c, double h) { return Lab<>{50, c * std::cos(h), c * std::sin(h)}; };
    const Lab<> one = at(chroma, hue), opposite{50, -other / chroma * one.a, -other / chroma * one.b};
    const double pi = std::numbers::pi, nearer = hue < pi ? hue + pi - 1e-7 : hue - pi + 1e-7;
    EXPECT_NEAR(ciede2000(one, opposite), ciede2000(one, at(other, nearer)), 1e-5) << hue;
  }
}

TEST(Ciede2000, FactorsDivideTheirParts) {
  const Lab<> a{50, 0, 0}, b{60, 0, 0};
  EXPECT_NEAR(ciede2000(a, b, {.kL = 2, .kC = 1, .kH = 1}), ciede2000(a, b) / 2, 1e-14);
  const Lab<> c{50, 30, 0}, d{50, 40, 0};
  EXPECT_NEAR(ciede2000(c, d, {.kL = 1, .kC = 2, .kH = 1}), ciede2000(c, d) / 2, 1e-14);
}

RC_GTEST_PROP(Ciede2000, IsSymmetricNonNegativeAndZeroForEquals, ()) {
  const auto draw = [](double low, double high) {
    return low + (high - low) * *rc::gen::inRange(0, 1 << 20) / (1 << 20);
  };
  const Lab<> a{draw(0, 100), draw(-100, 100), draw(-100, 100)}, b{draw(0, 100), draw(-100, 100), draw(-100, 100)};
  RC_ASSERT(ciede2000(a, a) == 0);
  RC_ASSERT(ciede2000(a, b) >= 0);
  RC_ASSERT(std::fabs(ciede2000(a, b) - ciede2000(b, a)) <= 1e-12 * ciede2000(a, b));
}

TEST(Euclidean, Differences) {
  EXPECT_EQ(delta_e_76(Lab<>{50, 0, 0}, Lab<>{53, 4, 12}), 13);
  EXPECT_EQ(delta_e_uv(Luv<>{50, 0, 0}, Luv<>{53, 4, 12}), 13);
  EXPECT_EQ(delta_uv_star(Luv<>{50, 0, 0}, Luv<>{80, 3, 4}), 5);
  EXPECT_NEAR(delta_uv_prime(UvPrime<>{0.1978, 0.4683}, UvPrime<>{0.1981, 0.4679}), 0.0005, 1e-16);
}

TEST(DeltaEItp, MatchesTheDefinitionEvaluatedAt40Digits) {
  // Rec. ITU-R BT.2124-0, worked values delta_e_itp (abs 1e-6).
  const struct {
    AbsoluteRgb<> a, b;
    double expected;
  } rows[] = {{{100, 100, 100}, {101, 101, 101}, 0.719268605879581},
              {{100, 100, 100}, {102, 98, 100}, 2.98664876373802},
              {{0.01, 0.01, 0.01}, {0.0113, 0.0113, 0.0113}, 0.972395873081422},
              {{1000, 1000, 1000}, {1000, 980, 1020}, 2.38371939564087},
              {{203, 150, 100}, {200, 152, 104}, 3.23264829888202},
              {{100, 0, 0}, {100, 2, 0}, 15.6045381756136},
              {{0, 0, 50}, {1, 0, 50}, 19.2346686938769}};
  for (const auto& row : rows) EXPECT_NEAR(itp_difference(row.a, row.b).total, row.expected, 1e-6);
  // The example that other libraries test with, delta_e_itp_from_ictcp (abs 1e-7).
  EXPECT_NEAR(delta_e_itp(Ictcp<>{0.4885468072, -0.04739350675, 0.07475401302},
                          Ictcp<>{0.4899203231, -0.04567508203, 0.07361341775}),
              1.42657228245756, 1e-7);
}

TEST(DeltaEItp, SplitsIntoLuminanceAndChromaticity) {
  const AbsoluteRgb<> grey{100, 100, 100};
  const auto brighter = itp_difference(grey, AbsoluteRgb<>{102, 102, 102});
  EXPECT_NEAR(brighter.luminance, brighter.total, 1e-12);
  EXPECT_NEAR(brighter.chromaticity, 0, 1e-9);
  EXPECT_NEAR(720 * brighter.di, brighter.total, 1e-9);
  // Equal luminance: all of it is chromaticity.
  const AbsoluteXyz<> a = xyz_from_xy(d65_video, Luminance<>{.cdm2 = 100});
  const AbsoluteXyz<> b = xyz_from_xy(Xy<>{.x = 0.3137, .y = 0.3290}, Luminance<>{.cdm2 = 100});
  const auto shifted = itp_difference(a, b);
  EXPECT_NEAR(shifted.total, 0.65, 0.005);  // dx = 0.001 at D65, 100 cd/m2, by independent calculation
  EXPECT_NEAR(shifted.chromaticity, shifted.total, 1e-12);
  EXPECT_NEAR(shifted.luminance, 0, 1e-9);
  // Both at once: near grey the squares add up.
  const AbsoluteXyz<> c{.X = 1.02 * b.X, .Y = 1.02 * b.Y, .Z = 1.02 * b.Z};
  const auto both = itp_difference(a, c);
  EXPECT_NEAR(both.total * both.total, both.luminance * both.luminance + both.chromaticity * both.chromaticity,
              0.05 * both.total * both.total);
  EXPECT_NEAR(both.chromaticity, shifted.chromaticity, 1e-9);
  EXPECT_NEAR(720 * std::sqrt(both.di * both.di + both.dt * both.dt + both.dp * both.dp), both.total, 1e-12);
}

TEST(DeltaEItp, AMetersScaleAloneIsWorthMoreThanOne) {
  // 2 % of luminance: 1.4 to 1.6 from 100 cd/m2 up, 1.1 at 10, 0.7 at 1 cd/m2, by independent calculation.
  const auto two_percent = [](double l) {
    return itp_difference(AbsoluteRgb<>{l, l, l}, AbsoluteRgb<>{1.02 * l, 1.02 * l, 1.02 * l}).total;
  };
  EXPECT_NEAR(two_percent(1), 0.7, 0.05);
  EXPECT_NEAR(two_percent(10), 1.1, 0.05);
  EXPECT_NEAR(two_percent(100), 1.4, 0.05);
  EXPECT_NEAR(two_percent(1000), 1.55, 0.05);
}

TEST(DeltaEItp, BlackHasNoChromaticity) {
  const auto d = itp_difference(AbsoluteRgb<>{0, 0, 0}, AbsoluteRgb<>{0.01, 0.012, 0.01});
  EXPECT_GT(d.total, 0);
  EXPECT_EQ(d.luminance, d.total);
  EXPECT_EQ(d.chromaticity, 0);
  const auto noise = itp_difference(AbsoluteRgb<>{0.001, 0.001, 0.001}, AbsoluteRgb<>{-0.0005, -0.001, 0.0003});
  EXPECT_TRUE(std::isfinite(noise.total));
  EXPECT_EQ(noise.luminance, noise.total);
}

RC_GTEST_PROP(DeltaEItp, FromXyzAndFromRgbAgree, ()) {
  const auto draw = [] { return std::pow(10.0, -2 + 5.0 * *rc::gen::inRange(0, 1 << 20) / (1 << 20)); };
  const AbsoluteRgb<> a{draw(), draw(), draw()}, b{draw(), draw(), draw()};
  const Matrix3<> m = rgb_to_xyz_matrix(bt2020_primaries);
  const auto from_rgb = itp_difference(a, b), from_xyz = itp_difference(xyz_from_rgb(a, m), xyz_from_rgb(b, m));
  RC_ASSERT(std::fabs(from_rgb.total - from_xyz.total) <= 1e-8);
  RC_ASSERT(std::fabs(from_rgb.luminance - from_xyz.luminance) <= 1e-8);
  RC_ASSERT(std::fabs(from_rgb.chromaticity - from_xyz.chromaticity) <= 1e-8);
}

}  // namespace
}  // namespace provenit::colour
