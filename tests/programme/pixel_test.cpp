#include "provenit/programme/pixel.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "kernel_picture.h"

namespace provenit::programme {
namespace {

using colour::Range;
using testing::flat_rgb;
using testing::make_picture;

double grey_light(int bits, Transfer transfer, int code, double peak = 1000) {
  return pixel_at(flat_rgb(bits, Range::narrow, transfer, {code, code, code}, peak), 1, 1).xyz.Y;
}

// Levels of PQ: the luminance of a quantised code (SMPTE ST 2084:2014, evaluated apart from this project).
TEST(Pixel, PqLevels) {
  EXPECT_NEAR(grey_light(10, Transfer::pq, 723), 1004.19, 0.01);
  EXPECT_NEAR(grey_light(10, Transfer::pq, 572), 201.49, 0.01);
  EXPECT_DOUBLE_EQ(grey_light(10, Transfer::pq, 940), 10000);
  EXPECT_EQ(grey_light(10, Transfer::pq, 64), 0);
  EXPECT_EQ(grey_light(10, Transfer::pq, 4), 0);
  EXPECT_DOUBLE_EQ(grey_light(10, Transfer::pq, 1019), 10000);
}

// Report ITU-R BT.2408-8 section 2.1: HDR Reference White is 203 cd/m2, 58 % PQ and 75 % HLG on a 1000 cd/m2 display;
// 18 % grey is 26 cd/m2 and 38 % of both. EBU R 167: 75 % HLG gives 203.15.
TEST(Pixel, ReferenceLevelsOfBt2408) {
  const int pq58 = 64 * 4 + static_cast<int>(std::lround(0.58 * 876 * 4));
  EXPECT_NEAR(grey_light(12, Transfer::pq, pq58), 203, 0.01 * 203);
  EXPECT_NEAR(grey_light(10, Transfer::hlg, 721), 203.15, 0.01);  // 75 % is code 721 exactly
  const int pq38 = 64 * 4 + static_cast<int>(std::lround(0.38 * 876 * 4));
  EXPECT_NEAR(grey_light(12, Transfer::pq, pq38), 26, 0.01 * 26);
  EXPECT_NEAR(grey_light(12, Transfer::hlg, pq38), 26.24, 0.03);  // the code is 0.01 % above 38 %
}

// BT.814-4 Table 3: PLUGE levels; luminances by the formulas of BT.2100-3.
TEST(Pixel, PlugeLevels) {
  EXPECT_NEAR(grey_light(10, Transfer::pq, 399), 26.71, 0.01);
  EXPECT_NEAR(grey_light(10, Transfer::hlg, 399), 26.64, 0.01);
  EXPECT_NEAR(grey_light(10, Transfer::pq, 80), 0.00725, 0.00001);
  EXPECT_NEAR(grey_light(10, Transfer::hlg, 80), 0.0180, 0.0001);
}

// Rec. ITU-R BT.1886-0 with L_W = 100, L_B = 0: V^2.4 of peak; top and bottom clamp.
TEST(Pixel, Bt1886AndSrgb) {
  EXPECT_NEAR(grey_light(10, Transfer::bt1886, 502, 100), 100 * std::pow(0.5, 2.4), 1e-9);
  EXPECT_DOUBLE_EQ(grey_light(10, Transfer::bt1886, 1000, 100), 100);
  EXPECT_EQ(grey_light(10, Transfer::bt1886, 40, 100), 0);
  const auto picture = flat_rgb(8, Range::full, Transfer::srgb, {128, 128, 128}, 80);
  EXPECT_NEAR(pixel_at(picture, 0, 0).xyz.Y, 80 * 0.2158605, 1e-5);  // IEC 61966-2-1 at 128/255
}

struct Bar {
  std::array<double, 3> bt709;  ///< on or off in BT.709
  std::array<int, 3> hlg, pq;   ///< 10-bit narrow codes of Rec. ITU-R BT.2111-2 (from memory, agreeing with its method)
};
constexpr std::array<Bar, 6> kBars{{{{1, 1, 0}, {713, 719, 316}, {568, 571, 381}},
                                    {{0, 1, 1}, {538, 709, 718}, {484, 566, 571}},
                                    {{0, 1, 0}, {512, 707, 296}, {474, 564, 368}},
                                    {{1, 0, 1}, {651, 286, 705}, {536, 361, 564}},
                                    {{1, 0, 0}, {639, 269, 164}, {530, 350, 256}},
                                    {{0, 0, 1}, {227, 147, 702}, {317, 236, 562}}}};

// Rec. ITU-R BT.2087-0, BT.709 to BT.2020 in linear light, four digits as printed.
std::array<double, 3> bt2087(const std::array<double, 3>& c) {
  return {0.6274 * c[0] + 0.3293 * c[1] + 0.0433 * c[2], 0.0691 * c[0] + 0.9195 * c[1] + 0.0114 * c[2],
          0.0164 * c[0] + 0.0880 * c[1] + 0.8956 * c[2]};
}

// The bars' light by the method of BT.2111: BT.709 colours converted in linear light, 100 % = light of 58 % PQ
// (201.666 cd/m2). A code is right within half a step, which is 0.7 % of light at these levels and more below.
TEST(Pixel, PqBarsOfBt2111) {
  for (const auto& bar : kBars) {
    const auto expected = bt2087(bar.bt709);
    const auto rgb = pixel_at(flat_rgb(10, Range::narrow, Transfer::pq, bar.pq), 2, 1).rgb;
    EXPECT_NEAR(rgb.r, 201.666 * expected[0], 0.02 * 201.666 * expected[0] + 0.01);
    EXPECT_NEAR(rgb.g, 201.666 * expected[1], 0.02 * 201.666 * expected[1] + 0.01);
    EXPECT_NEAR(rgb.b, 201.666 * expected[2], 0.02 * 201.666 * expected[2] + 0.01);
  }
}

// HLG: 100 % is the scene light of E' = 0.75; the OOTF of 1000 cd/m2 (gamma 1.2) written out here.
TEST(Pixel, HlgBarsOfBt2111) {
  const double scene75 = (std::exp((0.75 - 0.55991073) / 0.17883277) + 0.28466892) / 12;
  for (const auto& bar : kBars) {
    auto e = bt2087(bar.bt709);
    for (double& v : e) v *= scene75;
    const double gain = 1000 * std::pow(0.2627 * e[0] + 0.6780 * e[1] + 0.0593 * e[2], 0.2);
    const auto rgb = pixel_at(flat_rgb(10, Range::narrow, Transfer::hlg, bar.hlg), 0, 3).rgb;
    EXPECT_NEAR(rgb.r, gain * e[0], 0.015 * gain * e[0] + 0.01);
    EXPECT_NEAR(rgb.g, gain * e[1], 0.015 * gain * e[1] + 0.01);
    EXPECT_NEAR(rgb.b, gain * e[2], 0.015 * gain * e[2] + 0.01);
  }
}

// H.273 sitings by hand: a ramp in Cb of 16 codes a sample along x and 160 along y makes the position readable.
double interpolated_cb(Siting siting, Chroma chroma, int x, int y) {
  const PictureFormat f{.width = 7, .height = 7, .chroma = chroma, .siting = siting};
  const auto picture =
      make_picture(f, [](int plane, int cx, int cy) { return plane == 1 ? 400 + 16 * cx + 160 * cy : 512; });
  // B' - Y' = 1.8814 Cb (BT.2020), Cb = (code - 512) / 896.
  const Pixel p = pixel_at(picture, x, y);
  const double luma = (512.0 - 64) / 876;
  return (p.signal.b - luma) / 1.8814 * 896 + 512;
}

TEST(Pixel, SitingMovesTheChroma) {
  struct Case {
    Siting siting;
    int x, y;
    double cb;
  };
  // Position in chroma samples of luma (x, y): co-sited x/2, midway x/2 - 1/4; beyond the edge the edge.
  for (const Case& c :
       {Case{Siting::top_left, 2, 2, 400 + 16 + 160}, Case{Siting::top_left, 3, 2, 400 + 24 + 160},
        Case{Siting::top_left, 3, 3, 400 + 24 + 240}, Case{Siting::left, 2, 2, 400 + 16 + 120},
        Case{Siting::left, 3, 3, 400 + 24 + 200}, Case{Siting::left, 2, 0, 400 + 16 + 0},
        Case{Siting::centre, 2, 2, 400 + 12 + 120}, Case{Siting::centre, 3, 3, 400 + 20 + 200},
        Case{Siting::centre, 0, 0, 400}, Case{Siting::top, 2, 2, 400 + 12 + 160}, Case{Siting::top, 1, 1, 400 + 4 + 80},
        Case{Siting::top_left, 6, 6, 400 + 48 + 480}, Case{Siting::centre, 6, 6, 400 + 44 + 440}})
    EXPECT_NEAR(interpolated_cb(c.siting, Chroma::c420, c.x, c.y), c.cb, 1e-9)
        << name_of(c.siting) << " at " << c.x << ", " << c.y;
  EXPECT_NEAR(interpolated_cb(Siting::left, Chroma::c422, 3, 3), 400 + 24 + 480, 1e-9);
  EXPECT_NEAR(interpolated_cb(Siting::centre, Chroma::c422, 3, 3), 400 + 20 + 480, 1e-9);
}

TEST(Pixel, CodesAreAsDecoded) {
  const PictureFormat f{.width = 4, .height = 4};
  const auto picture = make_picture(f, [](int plane, int x, int y) { return 100 * (plane + 1) + 10 * y + x; });
  const Pixel p = pixel_at(picture, 3, 2);
  EXPECT_EQ(p.code, (std::array<double, 3>{123, 211, 311}));
}

TEST(Pixel, FloatsOutOfOrder) {
  PictureFormat f{.width = 2, .height = 1, .bits = 32, .is_float = true, .chroma = Chroma::rgb};
  f.transfer = Transfer::linear;
  f.matrix = Matrix::rgb;
  f.peak_cdm2 = 100;
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  const auto picture = make_picture(f, [&](int plane, int x, int) {
    return x == 0 ? std::array<double, 3>{nan, -2, 0.5}[plane] : std::array<double, 3>{inf, -inf, 1}[plane];
  });
  const Pixel p = pixel_at(picture, 0, 0);
  EXPECT_EQ(p.rgb.r, 0);
  EXPECT_EQ(p.rgb.g, 0);
  EXPECT_EQ(p.rgb.b, 50);
  EXPECT_EQ(pixel_at(picture, 1, 0).rgb.r, 100 * static_cast<double>(std::numeric_limits<float>::max()));
  EXPECT_EQ(pixel_at(picture, 1, 0).rgb.g, 0);
  EXPECT_EQ(p.signal.g, -2);
}

TEST(CheckFormat, RefusesWhatIsNotDefined) {
  const PictureFormat good{.width = 64, .height = 64};
  EXPECT_TRUE(check_format(good));
  const auto field = [&](auto change) {
    PictureFormat f = good;
    change(f);
    const auto checked = check_format(f);
    return checked ? std::string("accepted") : checked.error().where.field;
  };
  EXPECT_EQ(field([](auto& f) { f.width = 0; }), "width, height");
  EXPECT_EQ(field([](auto& f) { f.height = 40000; }), "width, height");
  EXPECT_EQ(field([](auto& f) { f.bits = 7; }), "bits");
  EXPECT_EQ(field([](auto& f) { f.bits = 17; }), "bits");
  EXPECT_EQ(field([](auto& f) { f.is_float = true; }), "bits");
  EXPECT_EQ(field([](auto& f) { f.is_float = true, f.bits = 32; }), "transfer");
  EXPECT_EQ(field([](auto& f) { f.matrix = Matrix::rgb; }), "matrix");
  EXPECT_EQ(field([](auto& f) { f.chroma = Chroma::rgb; }), "matrix");
  EXPECT_EQ(field([](auto& f) { f.transfer = Transfer::hlg, f.gamut = Gamut::p3_d65; }), "primaries");
  EXPECT_EQ(field([](auto& f) { f.chroma = Chroma::c422; }), "siting");
  EXPECT_EQ(field([](auto& f) { f.transfer = Transfer::hlg, f.peak_cdm2 = 0; }), "peak");
  EXPECT_EQ(field([](auto& f) { f.transfer = Transfer::bt1886, f.peak_cdm2 = std::nan(""); }), "peak");
  EXPECT_EQ(field([](auto& f) { f.peak_cdm2 = 0; }), "accepted");
}

TEST(CheckPicture, NamesThePlane) {
  const PictureFormat f{.width = 5, .height = 3};
  const auto good = make_picture(f, [](int, int, int) { return 512; });
  EXPECT_TRUE(check_picture(good));
  auto picture = good;
  picture.planes[1].width = 2;
  ASSERT_FALSE(check_picture(picture));
  EXPECT_EQ(check_picture(picture).error().where.field, "plane 1");
  picture = good;
  picture.planes[2].data = nullptr;
  EXPECT_EQ(check_picture(picture).error().where.field, "plane 2");
  picture = good;
  picture.planes[0].stride = -9;
  EXPECT_EQ(check_picture(picture).error().where.field, "plane 0");
}

}  // namespace
}  // namespace provenit::programme
