// Fine detail, line-up and identification.
#include <algorithm>
#include <numbers>

#include "pictures_support.h"

namespace provenit::signal {
namespace {

using namespace testing;

TEST(DetailPictures, ChromaPairsHaveOneLuminanceAndAGreyMean) {
  for (const auto& e : {pq10, sdr10, sdr8_full}) {
    const auto p = picture("chroma_lines", nlohmann::json::object(), e);
    const double level = p.request().parameters.at("level_cdm2");
    const auto places = places_by_name(p);
    for (const auto& [pair, a, b] :
         {std::tuple{"red pair", "red", "cyan"}, {"green pair", "green", "magenta"}, {"blue pair", "blue", "yellow"}}) {
      const auto code_of_plain = [&](const char* name) {
        return places.at(std::string(pair) + ", plain " + name).code;
      };
      const auto ca = code_of_plain(a), cb = code_of_plain(b);
      const auto xa = xyz_of(ca, e), xb = xyz_of(cb, e), sa = half_step(ca, e), sb = half_step(cb, e);
      EXPECT_NEAR(xa.Y, level, sa.Y) << pair;
      EXPECT_NEAR(xb.Y, level, sb.Y) << pair;
      // X and Z of D65 (0.3127, 0.3290): 0.950456, 1.089058.
      EXPECT_NEAR((xa.X + xb.X) / 2, 0.950456 * level, sa.X + sb.X) << pair;
      EXPECT_NEAR((xa.Z + xb.Z) / 2, 1.089058 * level, sa.Z + sb.Z) << pair;
      EXPECT_GT(std::hypot(xa.u() - xb.u(), xa.v() - xb.v()), 0.05) << pair;
      for (const int width : {1, 2, 4})
        for (const char* way : {"vertical", "horizontal"}) {
          const auto at = [&](int line, const char* name) {
            return places.at(std::string(pair) + ", " + std::to_string(width) + " px " + way + " line " +
                             std::to_string(line) + ", " + name);
          };
          const auto first = at(1, a), second = at(2, b);
          EXPECT_EQ(first.code, ca);
          EXPECT_EQ(second.code, cb);
          const bool upright = way == std::string("vertical");
          EXPECT_EQ(upright ? first.area.width : first.area.height, width);
          EXPECT_EQ(first.area.left % 4, 0) << "samples of chroma begin with the field";
          EXPECT_EQ(first.area.top % 4, 0);
        }
    }
  }
}

TEST(DetailPictures, TheZonePlateFollowsItsFormula) {
  // Code = black + (level - black) (1 + cos(pi r^2 / D)) / 2; half a cycle per pixel at r = D / 2.
  for (const auto size : {RasterSize{1920, 1080}, RasterSize{853, 481}}) {
    const auto p = picture("zone_plate", nlohmann::json::object(), sdr10, size);
    const int top = code_of(std::pow(0.5, 1 / 2.4), 10, Range::narrow), diameter = size.height;
    int exact = 0, all = 0;
    for (int y = 0; y < size.height; y += 11) {
      const auto row = p.row(0, y);
      for (int x = 0; x < size.width; x += 3) {
        const double dx = x + 0.5 - size.width / 2.0, dy = y + 0.5 - size.height / 2.0, r2 = dx * dx + dy * dy;
        const double wave = r2 > diameter * diameter / 4.0 ? 0 : std::cos(std::numbers::pi * r2 / diameter);
        const double wanted = 64 + (top - 64) * (1 + wave) / 2;
        const int got = row[static_cast<std::size_t>(3 * x)];
        ASSERT_NEAR(got, wanted, 0.5001) << x << ' ' << y;
        exact += got == static_cast<int>(std::floor(wanted + 0.5));
        ++all;
      }
    }
    EXPECT_GT(exact, 0.999 * all);
  }
}

TEST(DetailPictures, TheMeanGreyHasTheLightOfTheLines) {
  for (const auto& e : {pq10, sdr10, sdr8_full}) {
    const auto p = picture("line_mean", nlohmann::json::object(), e);
    const auto places = places_by_name(p);
    const auto row = p.row(0, 40);  // upright lines
    const int low = row[3 * 61], high = row[3 * 60];
    EXPECT_EQ(low, code_of(0, e.bits, e.range));
    for (int x = 60; x < 1860; ++x) ASSERT_EQ(row[static_cast<std::size_t>(3 * x)], x % 2 == 0 ? high : low) << x;
    const double mean = (light_of_code(high, e) + light_of_code(low, e)) / 2;
    for (const auto& [name, factor] : {std::pair{"mean -45 %", 0.55}, {"mean +0 %", 1.0}, {"mean +15 %", 1.15}})
      for (const char* lines : {"upright lines", "lying lines", "single pixels"}) {
        const int code = places.at(std::string(lines) + ", " + name).code.code[0];
        const double step = light_of_code(code + 1, e) - light_of_code(code, e);
        EXPECT_NEAR(light_of_code(code, e), factor * mean, 0.5001 * step) << lines << ' ' << name;
      }
  }
}

TEST(DetailPictures, ScalerLinesAreSinglePixels) {
  const auto p = picture("scaling_set", nlohmann::json::object(), sdr10, {.width = 720, .height = 576});
  // First panel: 180 x 288 pixels less 11; its upper half has lines of one pixel.
  const auto row = p.row(0, 60);
  int lit = 0;
  bool before = false;
  for (int x = 20; x < 160; ++x) {
    const bool on = row[static_cast<std::size_t>(3 * x)] != 64;
    EXPECT_TRUE(x == 20 || on != before) << x;
    before = on;
    lit += on;
  }
  EXPECT_EQ(lit, 70);
  // Rings are as wide as the shape of the pixels asks: 720 x 576 shown 4:3 has pixels 16/15 as wide as high.
  const auto extent = [](const TestPicture& shown) {
    int left = 720, right = 0, top = 576, bottom = 0;
    for (int y = 0; y < 288; ++y) {
      const auto r = shown.row(0, y);
      for (int x = 560; x < 720; ++x)
        if (r[static_cast<std::size_t>(3 * x)] != 64) {
          left = std::min(left, x);
          right = std::max(right, x + 1);
          top = std::min(top, y);
          bottom = std::max(bottom, y + 1);
        }
    }
    return std::pair{right - left, bottom - top};
  };
  const auto square = extent(p);
  EXPECT_EQ(square.first, square.second);
  const auto four_thirds =
      extent(picture("scaling_set", {{"display_aspect", 4.0 / 3}}, sdr10, {.width = 720, .height = 576}));
  EXPECT_NEAR(four_thirds.first, four_thirds.second * 15 / 16.0, 1);
}

struct BarCodes {
  const char* name;
  int ten[3], twelve[3];
};

void expect_bars(Transfer transfer, int bits, const std::vector<BarCodes>& table) {
  const auto places =
      places_by_name(picture("colour_bars", nlohmann::json::object(), {.transfer = transfer, .bits = bits}));
  for (const auto& bar : table)
    for (std::size_t c = 0; c < 3; ++c)
      EXPECT_EQ(places.at(bar.name).code.code[c], (bits == 10 ? bar.ten : bar.twelve)[c]) << bar.name << ' ' << bits;
}

TEST(DetailPictures, BarsHaveTheLevelsOfBt2111) {
  // BT.709 colours inside the container: 10 bits as remembered of Rec. ITU-R BT.2111 and recalculated; 12 bits
  // calculated, apart from the library. (HLG green: 707, remembered 706.)
  const std::vector<BarCodes> hlg{
      {"BT.709 yellow", {713, 719, 316}, {2853, 2876, 1265}}, {"BT.709 cyan", {538, 709, 718}, {2152, 2835, 2873}},
      {"BT.709 green", {512, 707, 296}, {2048, 2826, 1183}},  {"BT.709 magenta", {651, 286, 705}, {2603, 1142, 2820}},
      {"BT.709 red", {639, 269, 164}, {2554, 1077, 656}},     {"BT.709 blue", {227, 147, 702}, {906, 589, 2808}},
      {"white 75 %", {721, 721, 721}, {2884, 2884, 2884}},    {"yellow 75 %", {721, 721, 64}, {2884, 2884, 256}},
      {"blue 100 %", {64, 64, 940}, {256, 256, 3760}},        {"grey 40 %", {414, 414, 414}, {1658, 1658, 1658}}};
  const std::vector<BarCodes> pq{
      {"BT.709 yellow", {568, 571, 381}, {2272, 2284, 1523}}, {"BT.709 cyan", {484, 566, 571}, {1937, 2262, 2282}},
      {"BT.709 green", {474, 564, 368}, {1894, 2258, 1471}},  {"BT.709 magenta", {536, 361, 564}, {2144, 1444, 2255}},
      {"BT.709 red", {530, 350, 256}, {2120, 1400, 1026}},    {"BT.709 blue", {317, 236, 562}, {1269, 944, 2248}},
      {"white 58 %", {572, 572, 572}, {2288, 2288, 2288}},    {"red 100 %", {940, 64, 64}, {3760, 256, 256}}};
  for (const int bits : {10, 12}) {
    expect_bars(Transfer::hlg, bits, hlg);
    expect_bars(Transfer::pq, bits, pq);
  }
  const auto greys = places_by_name(picture("colour_bars"));
  EXPECT_EQ(greys.at("grey step -7 %").code, grey(4));
  EXPECT_EQ(greys.at("grey step 109 %").code, grey(1019));
}

TEST(DetailPictures, NearBlackLiftHasTheCodesOfBt814) {
  // Rec. ITU-R BT.814-4 table 3, 10 and 12 bits.
  for (const auto& [bits, higher, lighter, black, darker] :
       {std::tuple{10, 399, 80, 64, 48}, {12, 1596, 320, 256, 192}}) {
    const auto p = picture("near_black_lift", nlohmann::json::object(), {.bits = bits});
    EXPECT_EQ(pixel(p, 0, 0, 0), grey(black));
    int lighter_bars = 0, darker_bars = 0;
    for (const auto& place : p.places(0)) {
      EXPECT_EQ(place.name == "higher level", place.code == grey(higher));
      lighter_bars += place.code == grey(lighter);
      darker_bars += place.code == grey(darker);
    }
    EXPECT_EQ(lighter_bars, 10);
    EXPECT_EQ(darker_bars, 10);
  }
  for (const auto& place : picture("near_black_lift", nlohmann::json::object(), {.range = Range::full}).places(0))
    EXPECT_EQ(place.name.find("darker"), std::string::npos) << "full range has no code below black";
}

TEST(DetailPictures, IdentificationMarksLieOnePixelInside) {
  for (const auto size : {RasterSize{1920, 1080}, RasterSize{853, 481}}) {
    const auto p = picture("identification", nlohmann::json::object(), pq10, size);
    const auto [w, h] = size;
    const auto first = p.row(0, 0), last = p.row(0, h - 1);
    EXPECT_TRUE(std::ranges::all_of(first, [](int c) { return c == 64; }));
    EXPECT_EQ(first, last);
    for (const auto& [x, y] : {std::pair{1, 1},
                               {w - 2, 1},
                               {1, h - 2},
                               {w - 2, h - 2},
                               {w / 2, 1},
                               {w / 2, h - 2},
                               {1, h / 2},
                               {w - 2, h / 2},
                               {(w - 1) / 2, 1},
                               {1, (h - 1) / 2},
                               {w / 2, h / 2}})
      EXPECT_NE(pixel(p, 0, x, y), grey(64)) << x << ' ' << y;
    for (int y = 0; y < h; ++y) {
      const auto row = p.row(0, y);
      ASSERT_EQ(pixel(row, 0), grey(64));
      ASSERT_EQ(pixel(row, w - 1), grey(64));
    }
    const auto places = places_by_name(p);
    EXPECT_EQ(places.at("grey 50 %").code, grey(502));
    EXPECT_EQ(places.at("grey 100 %").code, grey(940));
  }
}

}  // namespace
}  // namespace provenit::signal
