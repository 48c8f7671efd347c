#include "provenit/signal/raster.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <utility>

namespace provenit::signal {
namespace {

Signal signal_of(const Geometry& geometry) {
  return {.patch = {{940, 512, 64}}, .surround = {{64, 65, 66}}, .geometry = geometry};
}
Signal window(double area) {
  return signal_of({.shape = Shape::window, .area_fraction = area});
}
Signal checkerboard(int columns, int rows) {
  return signal_of({.shape = Shape::checkerboard, .columns = columns, .rows = rows});
}

std::int64_t patch_pixels(const Raster& raster) {
  std::int64_t count = 0;
  for (int y = 0; y < raster.size().height; ++y)
    for (int x = 0; x < raster.size().width; ++x) count += raster.at(x, y) == raster.signal().patch;
  return count;
}

TEST(Raster, AFullFieldIsThePatchEverywhere) {
  const auto raster = Raster::make(signal_of({}), {.width = 7, .height = 5}).value();
  EXPECT_EQ(patch_pixels(raster), 35);
  EXPECT_EQ(raster.area_fraction_reached(), 1);
}

TEST(Raster, AWindowIsCentredAndAsLargeAsPixelsAllow) {
  const RasterSize sizes[] = {{3840, 2160}, {4096, 2160}, {1920, 1080}, {853, 480}, {101, 77}, {2, 2}, {1, 1}, {64, 1}};
  for (const auto size : sizes) {
    for (const double area : {0.0001, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 0.75, 1.0}) {
      const auto raster = Raster::make(window(area), size).value();
      const auto p = raster.patch();
      EXPECT_EQ(2 * p.left + p.width, size.width);
      EXPECT_EQ(2 * p.top + p.height, size.height);
      EXPECT_GE(p.width, 1);
      EXPECT_GE(p.height, 1);
      const double w = std::sqrt(area) * size.width, h = std::sqrt(area) * size.height;
      EXPECT_LE(std::abs(p.width - w), w < 1 ? 2 : 1) << area << ' ' << size.width;
      EXPECT_LE(std::abs(p.height - h), h < 1 ? 2 : 1) << area << ' ' << size.height;
    }
  }
  // 10 % of 3840 x 2160: 1214.3 x 683.1 pixels.
  const auto raster = Raster::make(window(0.1), {}).value();
  EXPECT_EQ(raster.patch(), (PixelRectangle{.left = 1313, .top = 738, .width = 1214, .height = 684}));
  EXPECT_EQ(raster.area_fraction_reached(), 1214.0 * 684 / (3840 * 2160));
  EXPECT_EQ(raster.at(1313, 738), raster.signal().patch);
  EXPECT_EQ(raster.at(1312, 738), raster.signal().surround);
  EXPECT_EQ(raster.at(1313, 737), raster.signal().surround);
  EXPECT_EQ(raster.at(1313 + 1213, 738 + 683), raster.signal().patch);
  EXPECT_EQ(raster.at(1313 + 1214, 738 + 683), raster.signal().surround);
}

TEST(Raster, AreaReachedIsWhatIsDrawn) {
  for (const double area : {0.01, 0.1, 0.5}) {
    const auto raster = Raster::make(window(area), {.width = 320, .height = 180}).value();
    EXPECT_EQ(static_cast<double>(patch_pixels(raster)) / (320 * 180), raster.area_fraction_reached());
  }
}

TEST(Raster, ACheckerboardHasItsPatchAtTheCentreAndIsSymmetric) {
  const RasterSize size{.width = 385, .height = 216};
  for (const auto& [columns, rows] : {std::pair{3, 3}, {5, 3}, {9, 7}, {31, 31}, {385, 215}}) {
    const auto raster = Raster::make(checkerboard(columns, rows), size).value();
    EXPECT_EQ(raster.at(size.width / 2, size.height / 2), raster.signal().patch);
    const auto p = raster.patch();
    EXPECT_EQ(2 * p.left + p.width, size.width);
    EXPECT_EQ(2 * p.top + p.height, size.height);
    EXPECT_EQ(raster.at(p.left, p.top), raster.signal().patch);
    EXPECT_EQ(raster.at(p.left - 1, p.top), raster.signal().surround);
    EXPECT_EQ(raster.at(p.left, p.top + p.height), raster.signal().surround);
    EXPECT_EQ(raster.at(p.left + p.width, p.top + p.height), raster.signal().patch);
    int changes = 0, shortest = size.width, longest = 0, length = 1;
    for (int x = 1; x <= size.width; ++x, ++length) {
      EXPECT_EQ(raster.at(x - 1, 0), raster.at(size.width - x, size.height - 1)) << "turned by half";
      if (x < size.width && raster.at(x, 0) == raster.at(x - 1, 0)) continue;
      changes += x < size.width;
      shortest = std::min(shortest, length);
      longest = std::max(longest, length);
      length = 0;
    }
    EXPECT_EQ(changes, columns - 1);
    EXPECT_LE(longest - shortest, 1) << columns;
  }
}

TEST(Raster, AWindowCanBeAnywhere) {
  const RasterSize size{.width = 3840, .height = 2160};
  for (const double area : {0.0001, 0.01, 0.04, 0.25})
    for (const auto& [x, y] : {std::pair{0.3, 0.3}, {0.5, 0.25}, {0.26, 0.74}, {0.7, 0.5}}) {
      auto s = window(area);
      s.geometry.centre_x = x;
      s.geometry.centre_y = y;
      const auto raster = Raster::make(s, size);
      ASSERT_TRUE(raster) << raster.error().text();
      const auto p = raster->patch();
      EXPECT_NEAR(p.left + p.width / 2.0, x * size.width, 1);
      EXPECT_NEAR(p.top + p.height / 2.0, y * size.height, 1);
      EXPECT_NEAR(p.width, std::sqrt(area) * size.width, 1);
      EXPECT_NEAR(p.height, std::sqrt(area) * size.height, 1);
      EXPECT_EQ(raster->at(p.left, p.top), s.patch);
      EXPECT_EQ(raster->at(p.left - 1, p.top), s.surround);
      EXPECT_EQ(raster->at(p.left + p.width, p.top + p.height - 1), s.surround);
    }
  auto corner = window(0.25);
  corner.geometry.centre_x = corner.geometry.centre_y = 0.75;
  EXPECT_EQ(Raster::make(corner, {.width = 101, .height = 77}).value().patch(),
            (PixelRectangle{.left = 50, .top = 38, .width = 51, .height = 39}));
}

TEST(Raster, AnEvenCheckerboardHasItsPatchRightOfAndBelowTheCentre) {
  const auto raster = Raster::make(checkerboard(4, 4), {.width = 400, .height = 200}).value();
  EXPECT_EQ(raster.patch(), (PixelRectangle{.left = 200, .top = 100, .width = 100, .height = 50}));
  EXPECT_EQ(raster.at(200, 100), raster.signal().patch);
  EXPECT_EQ(raster.at(199, 100), raster.signal().surround);
  EXPECT_EQ(raster.at(199, 99), raster.signal().patch);
  EXPECT_EQ(patch_pixels(raster), 400 * 200 / 2);
  const auto mixed = Raster::make(checkerboard(2, 3), {.width = 101, .height = 90}).value();
  EXPECT_EQ(mixed.patch(), (PixelRectangle{.left = 51, .top = 30, .width = 50, .height = 30}));
  EXPECT_EQ(mixed.at(51, 30), mixed.signal().patch);
  EXPECT_EQ(mixed.at(50, 30), mixed.signal().surround);
  EXPECT_EQ(mixed.at(51, 29), mixed.signal().surround);
}

TEST(Raster, RowsHoldTheCodes) {
  const auto raster = Raster::make(window(0.25), {.width = 16, .height = 8}).value();
  for (int y = 0; y < 8; ++y) {
    const auto row = raster.row(y);
    ASSERT_EQ(row.size(), 48u);
    for (int x = 0; x < 16; ++x)
      for (int c = 0; c < 3; ++c) EXPECT_EQ(row[static_cast<std::size_t>(3 * x + c)], raster.at(x, y).code[c]);
  }
}

TEST(Raster, RefusesWhatCannotBeDrawn) {
  EXPECT_EQ(Raster::make(window(0.1), {.width = 0, .height = 9}).error().where.field, "raster");
  EXPECT_FALSE(Raster::make(window(0.1), {.width = 9, .height = 40000}));
  EXPECT_EQ(Raster::make(checkerboard(9, 3), {.width = 8, .height = 8}).error().where.field, "geometry.columns");
  EXPECT_EQ(Raster::make(window(0), {}).error().where.field, "geometry.area_fraction");
}

}  // namespace
}  // namespace provenit::signal
