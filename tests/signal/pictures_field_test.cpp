// Fields, windows, greyscales, ramps, checkerboards: exact codes and pixels by arithmetic of their own.
#include <algorithm>
#include <numbers>

#include "pictures_support.h"
#include "provenit/signal/raster.h"

namespace provenit::signal {
namespace {

using namespace testing;

TEST(FieldPictures, WindowsAreThoseOfSignals) {
  for (const auto size : {RasterSize{3840, 2160}, RasterSize{853, 481}})
    for (const double percent : {1.0, 4.0, 10.0, 50.0}) {
      const auto p = picture("window", {{"area_percent", percent}}, pq10, size);
      const auto raster =
          Raster::make({.geometry = {.shape = Shape::window, .area_fraction = percent / 100}}, size).value();
      EXPECT_EQ(p.places(0)[0].area, raster.patch()) << percent;
      // 203 and 0 cd/m2 at 10 bits narrow: 573 and 64 (standard levels, see codes_test).
      EXPECT_EQ(p.places(0)[0].code, grey(573));
      EXPECT_EQ(pixel(p, 0, 0, 0), grey(64));
    }
}

TEST(FieldPictures, AWindowGoesWhereItIsPut) {
  const auto p = picture("window", {{"area_percent", 1}, {"centre_x_percent", 25}, {"centre_y_percent", 80}});
  EXPECT_EQ(p.places(0)[0].area, (PixelRectangle{.left = 480 - 96, .top = 864 - 54, .width = 192, .height = 108}));
}

TEST(FieldPictures, ADiscHasItsArea) {
  const auto p = picture("disc", {{"area_percent", 10}});
  double pixels = 0;
  for (int y = 0; y < 1080; ++y) {
    const auto row = p.row(0, y);
    for (int x = 0; x < 1920; ++x) pixels += row[static_cast<std::size_t>(3 * x)] == 573;
  }
  EXPECT_NEAR(pixels / (1920 * 1080), 0.1, 0.0003);
  // Diameter 2 sqrt(207360 / pi) = 513.8: 514 pixels, 703 to 1216 in the middle row.
  EXPECT_EQ(pixel(p, 0, 703, 540), grey(573));
  EXPECT_EQ(pixel(p, 0, 702, 540), grey(64));
  EXPECT_EQ(pixel(p, 0, 1216, 539), grey(573));
  EXPECT_EQ(pixel(p, 0, 1217, 539), grey(64));
}

TEST(FieldPictures, ColouredFieldsHaveTheirShareOfLight) {
  const auto p = picture("full_field", {{"level_cdm2", 200}, {"green_percent", 50}, {"blue_percent", 0}});
  const auto code = p.places(0)[0].code.code;
  EXPECT_EQ(code[0], code_of(pq_signal(200), 10, Range::narrow));
  EXPECT_EQ(code[1], code_of(pq_signal(100), 10, Range::narrow));
  EXPECT_EQ(code[2], 64);
}

TEST(GreyscalePictures, StepsAreEqualInTheSignal) {
  for (const auto& e : {pq10, sdr8_full}) {
    const auto p = picture("grey_steps", nlohmann::json::object(), e);
    const auto places = p.places(0);
    ASSERT_EQ(places.size(), 22u);
    for (int k = 0; k < 11; ++k) {
      const auto wanted = grey(code_of(k / 10.0, e.bits, e.range));
      EXPECT_EQ(places[static_cast<std::size_t>(k)].code, wanted) << k;
      EXPECT_EQ(pixel(p, 0, 1920 * (2 * k + 1) / 22, 100), wanted) << k;
      EXPECT_EQ(pixel(p, 0, 1919 - 1920 * (2 * k + 1) / 22, 900), wanted) << "turned by half " << k;
    }
    const auto frames = picture("grey_steps", {{"one_per_frame", 1}, {"steps", 5}, {"area_percent", 25}}, e);
    ASSERT_EQ(frames.frames(), 5);
    EXPECT_EQ(frames.places(2)[0].code, grey(code_of(0.5, e.bits, e.range)));
    EXPECT_EQ(frames.places(2)[0].area, (PixelRectangle{.left = 480, .top = 270, .width = 960, .height = 540}));
    EXPECT_EQ(frames.frame_text(2), "3 of 5: step 3, 50 %");
  }
}

TEST(GreyscalePictures, NearBlackStepsAreTheFirstCodes) {
  const auto p = picture("near_black_steps", {{"steps", 12}, {"codes_per_step", 2}});
  const auto places = p.places(0);
  ASSERT_EQ(places.size(), 12u);
  for (int k = 0; k < 12; ++k) {
    EXPECT_EQ(places[static_cast<std::size_t>(k)].code, grey(64 + 2 * (k + 1)));
    EXPECT_EQ(places[static_cast<std::size_t>(k)].name, "black + " + std::to_string(2 * (k + 1)));
  }
}

TEST(RampPictures, HaveEveryCodeOnceAndEvenly) {
  struct Case {
    Encoding e;
    int step_bits, first, last, step;
    RasterSize size;
  };
  Encoding twelve = pq10, eight_in_ten = pq10;
  twelve.bits = 12;
  const Case cases[] = {{pq10, 10, 64, 940, 1, {3840, 2160}},
                        {pq10, 0, 64, 940, 1, {1920, 1080}},
                        {eight_in_ten, 8, 64, 940, 4, {853, 481}},
                        {twelve, 12, 256, 3760, 1, {3840, 2160}},
                        {sdr8_full, 8, 0, 255, 1, {1280, 720}}};
  for (const auto& c : cases)
    for (const int vertical : {0, 1}) {
      const auto p = picture("luminance_ramp", {{"step_bits", c.step_bits}, {"vertical", vertical}}, c.e, c.size);
      std::vector<int> codes;
      for (int i = 0; i < (vertical ? c.size.height : c.size.width); ++i)
        codes.push_back(vertical ? p.row(0, i)[0] : p.row(0, 5)[static_cast<std::size_t>(3 * i)]);
      EXPECT_EQ(codes.front(), c.first);
      EXPECT_EQ(codes.back(), c.last);
      const bool room = (c.last - c.first) / c.step + 1 <= static_cast<int>(codes.size());
      int shortest = 1 << 20, longest = 0, length = 0, before = codes[0];
      for (const int code : codes) {
        ASSERT_EQ((code - c.first) % c.step, 0);
        if (code != before) {
          if (room) {
            ASSERT_EQ(code, before + c.step);
          }
          ASSERT_GT(code, before);
          shortest = std::min(shortest, length);
          longest = std::max(longest, length);
          length = 0;
        }
        ++length;
        before = code;
      }
      if (room) {
        EXPECT_LE(longest - shortest, 1) << c.size.width;
      }
    }
}

TEST(RampPictures, FewerBitsHaveFewerCodes) {
  const auto p = picture("ramp_bit_depths");  // 10, 9, 8, 7, 6 bits in fifths of the height
  for (int band = 0; band < 5; ++band) {
    const int step = 1 << band;
    auto row = p.row(0, 108 + 216 * band);
    std::ranges::sort(row);
    const auto end = std::ranges::unique(row).begin();
    const int count = static_cast<int>(end - row.begin());
    EXPECT_EQ(count, (940 / step - (64 + step - 1) / step) + 1) << band;
    for (auto it = row.begin(); it != end; ++it) EXPECT_EQ(*it % step, 0);
  }
}

TEST(Checkerboards, HaveBothPhasesAndASquare) {
  for (const auto& [columns, rows] : {std::pair{4, 4}, {5, 3}, {8, 6}})
    for (const int phase : {0, 1})
      for (const int square : {0, 1, 2}) {
        const auto p =
            picture("checkerboard", {{"columns", columns}, {"rows", rows}, {"phase", phase}, {"square", square}});
        for (int row = 0; row < rows; ++row)
          for (int column = 0; column < columns; ++column) {
            // Near the corner of the check that is furthest from the middle, where no square reaches.
            const int x = 2 * column < columns ? 1920 * column / columns + 8 : 1920 * (column + 1) / columns - 8;
            const int y = 2 * row < rows ? 1080 * row / rows + 8 : 1080 * (row + 1) / rows - 8;
            const bool white = (column + row + phase) % 2 == 0;
            EXPECT_EQ(pixel(p, 0, x, y), grey(white ? 573 : 64)) << columns << ' ' << column << ' ' << row;
          }
        if (square == 0) continue;
        const auto centre = p.places(0)[0];
        EXPECT_EQ(centre.name, "centre");
        EXPECT_EQ(centre.code, grey(square == 1 ? 64 : 573));
        EXPECT_EQ(2 * centre.area.left + centre.area.width, 1920);
        EXPECT_EQ(2 * centre.area.top + centre.area.height, 1080);
      }
  // 60 % of 1080 / 4 pixels.
  EXPECT_EQ(picture("checkerboard", {{"square", 2}}).places(0)[0].area.width, 162);
}

}  // namespace
}  // namespace provenit::signal
