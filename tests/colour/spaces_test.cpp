#include "provenit/colour/spaces.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "provenit/colour/primaries.h"

namespace provenit::colour {
namespace {

struct SpaceRow {
  RelativeXyz<> xyz, white;
  Lab<> lab;
  Luv<> luv;
  UvPrime<> uv;
};
// ISO/CIE 11664-4:2019 and 11664-5:2016 evaluated at 40 digits: worked values cielab and cieluv (abs 1e-9),
// uv_prime_from_xyz (abs 1e-12). The whites are in the scale 100 of their documents; only ratios matter.
const RelativeXyz<> video{.X = 95.0456, .Y = 100, .Z = 108.9058}, cie{.X = 95.047, .Y = 100, .Z = 108.883};
const SpaceRow kSpaces[] = {
    {{95.0456, 100, 108.9058}, video, {100, 0, 0}, {100, 0, 0}, {0.197830013378341, 0.468319974939678}},
    {{20.654008, 12.197225, 5.136952},
     cie,
     {41.5278752943983, 52.6370994191684, 26.9181411649132},
     {41.5278752943983, 96.8309600793908, 17.7432974136361},
     {0.377202128765889, 0.50120263722335}},
    {{18.0481, 7.2192, 95.0532},
     video,
     {32.3008025722982, 79.1956784215352, -107.855562015697},
     {32.3008025722982, -9.40221412475868, -130.351005740842},
     {0.175439014308047, 0.157894238019984}},
    {{0.05, 0.06, 0.04},
     video,
     {0.541977777777778, -0.28787399202379, 0.36242443911602},
     {0.541977777777778, -0.0768977754997985, 0.256132188264572},
     {0.186915887850467, 0.504672897196262}},
    {{14.2227, 6.3010, 0.0100},
     video,
     {30.1595056550719, 66.4890292952631, 51.8561426798264},
     {30.1595056550719, 127.509637905591, 20.8023398803225},
     {0.523048662424598, 0.521377210329905}},
    {{250, 203, 120},
     {192.9426, 203, 221.0788},
     {100, 45.0972173760036, 36.8546456705002},
     {100, 98.4981017887234, 41.0062111676703},
     {0.27359781121751, 0.499863201094391}},
};

TEST(Spaces, MatchTheDefinitionsEvaluatedAt40Digits) {
  for (const SpaceRow& row : kSpaces) {
    const Lab<> lab = lab_from_xyz(row.xyz, row.white);
    EXPECT_NEAR(lab.L, row.lab.L, 1e-9);
    EXPECT_NEAR(lab.a, row.lab.a, 1e-9);
    EXPECT_NEAR(lab.b, row.lab.b, 1e-9);
    const Luv<> luv = luv_from_xyz(row.xyz, row.white);
    EXPECT_NEAR(luv.L, row.luv.L, 1e-9);
    EXPECT_NEAR(luv.u, row.luv.u, 1e-9);
    EXPECT_NEAR(luv.v, row.luv.v, 1e-9);
    const UvPrime<> uv = uv_prime_from_xyz(row.xyz);
    EXPECT_NEAR(uv.u, row.uv.u, 1e-12);
    EXPECT_NEAR(uv.v, row.uv.v, 1e-12);
  }
}

TEST(Spaces, UvPrimeFromXyMatchesTheDefinition) {
  // Worked values uv_prime_from_xy (abs 1e-12).
  const struct {
    Xy<> xy;
    UvPrime<> uv;
  } points[] = {{d65_video, {0.197830006642837, 0.468319994938791}},
                {{0.680, 0.320}, {0.496350364963504, 0.525547445255474}},
                {{0.170, 0.797}, {0.0556282722513089, 0.586796465968586}},
                {{0.131, 0.046}, {0.159270516717325, 0.125835866261398}},
                {dci_white, {0.190765492102066, 0.479799513973269}}};
  for (const auto& p : points) {
    const UvPrime<> uv = uv_prime_from_xy(p.xy);
    EXPECT_NEAR(uv.u, p.uv.u, 1e-12);
    EXPECT_NEAR(uv.v, p.uv.v, 1e-12);
    EXPECT_NEAR(xy_from_uv_prime(uv).x, p.xy.x, 1e-14);
    EXPECT_NEAR(xy_from_uv_prime(uv).y, p.xy.y, 1e-14);
    EXPECT_NEAR(uv1960_from_xy(p.xy).v, p.uv.v * 2 / 3, 1e-12);
    EXPECT_NEAR(xy_from_uv1960(uv1960_from_xy(p.xy)).y, p.xy.y, 1e-14);
  }
}

TEST(Spaces, AbsoluteAndRelativeAgree) {
  const AbsoluteXyz<> c{.X = 250, .Y = 203, .Z = 120}, white{.X = 192.9426, .Y = 203, .Z = 221.0788};
  EXPECT_EQ(lab_from_xyz(c, white).a, lab_from_xyz(kSpaces[5].xyz, kSpaces[5].white).a);
  EXPECT_EQ(luv_from_xyz(c, white).u, luv_from_xyz(kSpaces[5].xyz, kSpaces[5].white).u);
  EXPECT_EQ(xy_from_xyz(c).x, xy_from_xyz(kSpaces[5].xyz).x);
  const AbsoluteXyz<> again = xyz_from_xy(xy_from_xyz(c), Luminance<>{.cdm2 = 203});
  EXPECT_NEAR(again.X, 250, 1e-12);
  EXPECT_NEAR(again.Z, 120, 1e-12);
}

TEST(Spaces, LightnessPartsMeetInValueAndSlope) {
  const double t = detail::lab_break * detail::lab_break * detail::lab_break;
  const double above = std::nextafter(t, 1);
  EXPECT_NEAR(detail::lab_f(t), detail::lab_f(above), 1e-15);
  EXPECT_NEAR((detail::lab_f(t) - detail::lab_f(t - 1e-6)) / 1e-6, (detail::lab_f(t + 1e-6) - detail::lab_f(t)) / 1e-6,
              1e-3);
}

TEST(Spaces, BlackHasLightnessZeroAndNoChromaticity) {
  const RelativeXyz<> black;
  EXPECT_NEAR(lab_from_xyz(black, video).L, 0, 1e-14);
  EXPECT_EQ(luv_from_xyz(black, video).u, 0);
  EXPECT_TRUE(std::isnan(xy_from_xyz(black).x));
  EXPECT_TRUE(std::isnan(uv_prime_from_xyz(black).u));
  EXPECT_EQ(xyz_from_luv(Luv<>{.L = 0, .u = 3, .v = 4}, video).X, 0);
}

TEST(Spaces, NegativeTristimulusValuesPassThrough) {
  const RelativeXyz<> c{.X = -0.01, .Y = 0.02, .Z = -0.03};  // dark subtraction
  const RelativeXyz<> back = xyz_from_lab(lab_from_xyz(c, video), video);
  EXPECT_NEAR(back.X, c.X, 1e-12);
  EXPECT_NEAR(back.Z, c.Z, 1e-12);
  EXPECT_LT(lab_from_xyz(RelativeXyz<>{.X = 0, .Y = -0.01, .Z = 0}, video).L, 0);
}

// Every colour comes back from every space, within 1e-12 of its white (headers' claim).
RC_GTEST_PROP(Spaces, RoundTrips, ()) {
  const auto draw = [] { return (1 + *rc::gen::inRange(0, 1 << 24)) * 1.5 / (1 << 24); };
  const RelativeXyz<> c{.X = draw(), .Y = draw(), .Z = draw()};
  const RelativeXyz<> white = white_xyz(d65_video);
  for (const RelativeXyz<>& back :
       {xyz_from_lab(lab_from_xyz(c, white), white), xyz_from_luv(luv_from_xyz(c, white), white),
        xyz_from_xy(xy_from_xyz(c), Relative<>{.value = c.Y}),
        xyz_from_xy(xy_from_uv_prime(uv_prime_from_xyz(c)), Relative<>{.value = c.Y})}) {
    // Chromaticity forms divide by y: their error grows with the size of X, Y, Z against Y.
    const double tolerance = 1e-13 * (1 + (c.X + c.Y + c.Z) / c.Y) * 10;
    RC_ASSERT(std::fabs(back.X - c.X) <= tolerance);
    RC_ASSERT(std::fabs(back.Y - c.Y) <= tolerance);
    RC_ASSERT(std::fabs(back.Z - c.Z) <= tolerance);
  }
}

}  // namespace
}  // namespace provenit::colour
