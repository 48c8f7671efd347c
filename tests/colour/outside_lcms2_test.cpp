// Against lcms2 2.14 (MIT): CIELAB, CIEDE2000, xyY, Bradford adaptation. It computes in double.
#include <gtest/gtest.h>
#include <lcms2.h>

#include <memory>
#include <random>

#include "outside_library.h"
#include "provenit/colour/adaptation.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"

namespace provenit::colour {
namespace {

const std::string library = "lcms2 " + std::to_string(cmsGetEncodedCMMversion());

class Outside : public testing::Test {
 protected:
  double draw(double low, double high) { return low + (high - low) * static_cast<double>(random_() >> 11) * 0x1p-53; }
  RelativeXyz<> draw_xyz() { return {.X = draw(0.001, 1.2), .Y = draw(0.001, 1.2), .Z = draw(0.001, 1.2)}; }

 private:
  std::mt19937_64 random_{1};
};
using Lcms2 = Outside;

cmsCIEXYZ theirs(const RelativeXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

TEST_F(Lcms2, CielabBothWays) {
  // Its break is written as 24/116, its slope as 841/108: the same formula.
  Agreement forward("CIELAB", library, 1e-12), backward("CIELAB, inverse", library, 1e-14);
  for (int i = 0; i < 2000; ++i) {
    const RelativeXyz<> c = draw_xyz(), white = white_xyz(Xy<>{.x = draw(0.28, 0.4), .y = draw(0.28, 0.4)});
    const cmsCIEXYZ w = theirs(white), x = theirs(c);
    cmsCIELab lab;
    cmsXYZ2Lab(&w, &lab, &x);
    const Lab<> ours = lab_from_xyz(c, white);
    forward.absolute(ours.L, lab.L);
    forward.absolute(ours.a, lab.a);
    forward.absolute(ours.b, lab.b);
    cmsCIEXYZ back;
    cmsLab2XYZ(&w, &back, &lab);
    const RelativeXyz<> again = xyz_from_lab(Lab<>{.L = lab.L, .a = lab.a, .b = lab.b}, white);
    backward.absolute(again.X, back.X);
    backward.absolute(again.Z, back.Z);
  }
}

TEST_F(Lcms2, XyyBothWays) {
  Agreement forward("x, y", library, 1e-15), backward("x, y, inverse", library, 1e-13);
  for (int i = 0; i < 2000; ++i) {
    const RelativeXyz<> c = draw_xyz();
    const cmsCIEXYZ x = theirs(c);
    cmsCIExyY xyy;
    cmsXYZ2xyY(&xyy, &x);
    const Xy<> ours = xy_from_xyz(c);
    forward.absolute(ours.x, xyy.x);
    forward.absolute(ours.y, xyy.y);
    cmsCIEXYZ back;
    cmsxyY2XYZ(&back, &xyy);
    const RelativeXyz<> again = xyz_from_xy(ours, Relative<>{.value = c.Y});
    backward.relative(again.X, back.X);
    backward.relative(again.Z, back.Z);
  }
}

TEST_F(Lcms2, Ciede2000AndCie76) {
  Agreement ciede("CIEDE2000", library, 1e-12), cie76("CIE76", library, 1e-13);
  for (int i = 0; i < 5000; ++i) {
    const Lab<> a{.L = draw(0, 100), .a = draw(-100, 100), .b = draw(-100, 100)};
    const Lab<> b{.L = a.L + draw(-8, 8), .a = a.a + draw(-20, 20), .b = a.b + draw(-20, 20)};
    const cmsCIELab x{a.L, a.a, a.b}, y{b.L, b.a, b.b};
    cie76.absolute(delta_e_76(a, b), cmsDeltaE(&x, &y));
    ciede.absolute(ciede2000(a, b, {.kL = 1, .kC = 1.5, .kH = 2}), cmsCIE2000DeltaE(&x, &y, 1, 1.5, 2));
  }
}

TEST_F(Lcms2, Bradford) {
  // The public call adapts a colour from one white to another; its matrix has the same digits.
  Agreement bradford("Bradford", library, 1e-14);
  for (int i = 0; i < 500; ++i) {
    const RelativeXyz<> from = white_xyz(Xy<>{.x = draw(0.28, 0.4), .y = draw(0.28, 0.4)});
    const RelativeXyz<> to = white_xyz(Xy<>{.x = draw(0.28, 0.4), .y = draw(0.28, 0.4)}), c = draw_xyz();
    const cmsCIEXYZ f = theirs(from), t = theirs(to), x = theirs(c);
    cmsCIEXYZ result;
    ASSERT_TRUE(cmsAdaptToIlluminant(&result, &f, &t, &x));
    const RelativeXyz<> ours = adapted(c, adaptation_matrix(AdaptationTransform::bradford, from, to));
    bradford.absolute(ours.X, result.X);
    bradford.absolute(ours.Y, result.Y);
    bradford.absolute(ours.Z, result.Z);
  }
}

// A profile made from primaries holds their matrix, adapted to the ICC's D50 (in double as long as it is in memory).
TEST_F(Lcms2, MatrixOfAProfileMadeFromPrimaries) {
  Agreement colorants("RGB to XYZ, adapted to D50", library, 1e-14);
  const std::unique_ptr<cmsToneCurve, void (*)(cmsToneCurve*)> linear(cmsBuildGamma(nullptr, 1.0), cmsFreeToneCurve);
  for (const auto& p : {bt709_primaries, p3_d65_primaries, p3_dci_primaries, bt2020_primaries}) {
    const cmsCIExyY white{p.white.x, p.white.y, 1};
    const cmsCIExyYTRIPLE rgb{{p.red.x, p.red.y, 1}, {p.green.x, p.green.y, 1}, {p.blue.x, p.blue.y, 1}};
    cmsToneCurve* curves[3] = {linear.get(), linear.get(), linear.get()};
    const std::unique_ptr<void, int (*)(void*)> profile(cmsCreateRGBProfile(&white, &rgb, curves), cmsCloseProfile);
    ASSERT_TRUE(profile);
    const cmsCIEXYZ* d50_icc = cmsD50_XYZ();
    const Matrix3<> m = adaptation_matrix(AdaptationTransform::bradford, white_xyz(p.white),
                                          RelativeXyz<>{.X = d50_icc->X, .Y = d50_icc->Y, .Z = d50_icc->Z}) *
                        rgb_to_xyz_matrix(p);
    const cmsTagSignature tags[] = {cmsSigRedColorantTag, cmsSigGreenColorantTag, cmsSigBlueColorantTag};
    for (std::size_t j = 0; j < 3; ++j) {
      const auto* c = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile.get(), tags[j]));
      ASSERT_NE(c, nullptr);
      colorants.absolute(m(0, j), c->X);
      colorants.absolute(m(1, j), c->Y);
      colorants.absolute(m(2, j), c->Z);
    }
  }
}

}  // namespace
}  // namespace provenit::colour
