#include "provenit/colour/primaries.h"

#include <gtest/gtest.h>

#include <array>

namespace provenit::colour {
namespace {

void expect_matrix(const Matrix3<>& m, const std::array<double, 9>& expected, double tolerance) {
  for (std::size_t i = 0; i < 9; ++i) EXPECT_NEAR(m(i / 3, i % 3), expected[i], tolerance) << i / 3 << ", " << i % 3;
}

// SMPTE RP 177:1993, worked values rgb_to_xyz_matrix (abs 1e-12), xyz_to_rgb_matrix (abs 1e-11), rgb_to_rgb_matrix
// (abs 1e-11).
TEST(Primaries, MatricesMatchTheDefinitionEvaluatedAt40Digits) {
  expect_matrix(rgb_to_xyz_matrix(bt709_primaries),
                {0.412390799265959, 0.357584339383878, 0.180480788401834, 0.21263900587151, 0.715168678767756,
                 0.0721923153607337, 0.0193308187155919, 0.119194779794626, 0.950532152249661},
                1e-12);
  expect_matrix(rgb_to_xyz_matrix(p3_d65_primaries),
                {0.486570948648216, 0.265667693169093, 0.198217285234363, 0.228974564069749, 0.691738521836506,
                 0.079286914093745, 0, 0.0451133818589026, 1.04394436890098},
                1e-12);
  expect_matrix(rgb_to_xyz_matrix(p3_dci_primaries),
                {0.445169815564552, 0.277134409206778, 0.172282669815565, 0.209491677912731, 0.721595254161044,
                 0.0689130679262258, 0, 0.0470605600539811, 0.907355394361973},
                1e-12);
  expect_matrix(rgb_to_xyz_matrix(bt2020_primaries),
                {0.636958048301291, 0.144616903586208, 0.168880975164172, 0.262700212011267, 0.677998071518871,
                 0.0593017164698619, 0, 0.0280726930490875, 1.06098505771079},
                1e-12);
  expect_matrix(xyz_to_rgb_matrix(bt2020_primaries),
                {1.71665118797127, -0.355670783776392, -0.25336628137366, -0.666684351832489, 1.61648123663494,
                 0.0157685458139111, 0.0176398574453109, -0.0427706132578087, 0.942103121235474},
                1e-11);
  expect_matrix(rgb_to_rgb_matrix(p3_d65_primaries, bt2020_primaries),
                {0.753833034361722, 0.198597369052616, 0.0475695965856619, 0.0457438489653583, 0.941777219811694,
                 0.0124789312229481, -0.00121034035451832, 0.0176017173010899, 0.983608623053428},
                1e-11);
}

TEST(Primaries, ConversionsRoundToTheMatricesThatAreInPrint) {
  // Rec. ITU-R BT.2087-0 (709 to 2020) and BT.2407-0 (2020 to 709), four digits.
  expect_matrix(rgb_to_rgb_matrix(bt709_primaries, bt2020_primaries),
                {0.6274, 0.3293, 0.0433, 0.0691, 0.9195, 0.0114, 0.0164, 0.0880, 0.8956}, 5.01e-5);
  expect_matrix(rgb_to_rgb_matrix(bt2020_primaries, bt709_primaries),
                {1.6605, -0.5876, -0.0728, -0.1246, 1.1329, -0.0083, -0.0182, -0.1006, 1.1187}, 5.01e-5);
}

TEST(Primaries, ConvertedColoursMatchTheDefinitionEvaluatedAt40Digits) {
  // Worked values rgb_convert_linear (abs 1e-10).
  const auto convert = [](const Primaries<>& from, const Primaries<>& to, double r, double g, double b) {
    return rgb_from_rgb(RelativeRgb<>{.r = r, .g = g, .b = b}, rgb_to_rgb_matrix(from, to));
  };
  const auto green = convert(bt2020_primaries, bt709_primaries, 0, 1, 0);
  EXPECT_NEAR(green.r, -0.58764113878855, 1e-10);
  EXPECT_NEAR(green.g, 1.13289989712596, 1e-10);
  EXPECT_NEAR(green.b, -0.100578898008007, 1e-10);
  const auto mixed = convert(bt2020_primaries, p3_d65_primaries, 0.2, 0.9, 0.1);
  EXPECT_NEAR(mixed.r, 0.00861408883752464, 1e-10);
  EXPECT_NEAR(mixed.g, 0.954100587399948, 1e-10);
  EXPECT_NEAR(mixed.b, 0.0846033831065748, 1e-10);
  const auto grey = convert(bt709_primaries, bt2020_primaries, 0.18, 0.18, 0.18);
  for (double c : {grey.r, grey.g, grey.b}) EXPECT_NEAR(c, 0.18, 1e-15);
}

TEST(Primaries, WhiteAndPrimariesComeOutWhereTheyWerePut) {
  for (const auto& p : {bt709_primaries, p3_d65_primaries, p3_dci_primaries, bt2020_primaries}) {
    const Matrix3<> m = rgb_to_xyz_matrix(p);
    const auto at = [&m](double r, double g, double b) {
      return xy_from_xyz(xyz_from_rgb(RelativeRgb<>{.r = r, .g = g, .b = b}, m));
    };
    for (const auto& [c, expected] :
         {std::pair{at(1, 0, 0), p.red}, {at(0, 1, 0), p.green}, {at(0, 0, 1), p.blue}, {at(1, 1, 1), p.white}}) {
      EXPECT_NEAR(c.x, expected.x, 1e-14);
      EXPECT_NEAR(c.y, expected.y, 1e-14);
    }
    const AbsoluteXyz<> white = xyz_from_rgb(AbsoluteRgb<>{.r = 203, .g = 203, .b = 203}, m);
    EXPECT_NEAR(white.Y, 203, 1e-12);  // a, a, a is a white of a cd/m2
    const AbsoluteRgb<> back = rgb_from_xyz(white, xyz_to_rgb_matrix(p));
    EXPECT_NEAR(back.b, 203, 1e-11);
  }
}

TEST(Primaries, TheTwoD65AreKeptApart) {
  EXPECT_NEAR(white_xyz(d65_video).X, 0.9504559270516716, 1e-15);
  EXPECT_NEAR(white_xyz(d65_video).Z, 1.0890577507598784, 1e-15);
  // CIE 15 tabulates 95.047 100 108.883; its own five-decimal chromaticity gives back four digits of that.
  EXPECT_NEAR(white_xyz(d65_cie).X, 0.95047, 5e-5);
  EXPECT_NEAR(white_xyz(d65_cie).Z, 1.08883, 5e-5);
  EXPECT_NE(white_xyz(d65_cie).X, white_xyz(d65_video).X);
}

TEST(Primaries, PrimariesInOneLineGiveNoFiniteMatrix) {
  Primaries<> p = bt709_primaries;
  p.blue = {.x = 0.47, .y = 0.465};  // between red and green
  const Matrix3<> m = rgb_to_xyz_matrix(p);
  EXPECT_TRUE(!std::isfinite(m(0, 0)) || std::fabs(m(0, 0)) > 1e12);
}

TEST(Matrix3, InverseAndProduct) {
  const Matrix3<> m{.row = {{{2, -1, 0.5}, {0.25, 3, 1}, {-4, 0, 7}}}};
  const Matrix3<> one = m * inverse(m);
  expect_matrix(one, {1, 0, 0, 0, 1, 0, 0, 0, 1}, 1e-15);
  expect_matrix(diagonal(Vector3<>{1, 2, 3}) * m, {2, -1, 0.5, 0.5, 6, 2, -12, 0, 21}, 0);
  const Vector3<> v = m * Vector3<>{1, 10, 100};
  EXPECT_EQ(v, (Vector3<>{42, 130.25, 696}));
}

}  // namespace
}  // namespace provenit::colour
