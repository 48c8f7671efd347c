// The meter against the tests' own reference, on every instruction set of this machine.
#include <gtest/gtest.h>

#include <cstring>
#include <limits>

#include "kernel_frames.h"
#include "provenit/programme/frame_meter.h"
#include "reference.h"

namespace provenit::programme {
namespace {

using testing::Content;
using testing::draw;
using testing::expect_agrees;
using testing::Layout;
using testing::measure_reference;

void expect_all_levels_agree(const Picture& picture) {
  const auto reference = measure_reference(picture);
  for (const auto& level : simd_levels()) {
    SCOPED_TRACE(describe(picture.format) + " on " + level);
    auto meter = FrameMeter::make(picture.format, level);
    ASSERT_TRUE(meter) << meter.error().text();
    const auto record = meter->measure(picture);
    ASSERT_TRUE(record) << record.error().text();
    expect_agrees(*record, reference, picture);
  }
}

TEST(FrameMeter, EveryFormat) {
  unsigned i = 0;
  for (PictureFormat f : testing::all_formats()) {
    const Content content = testing::kContents[i % testing::kContents.size()];
    if (i % 5 == 1) f.width = 64, f.height = 48;
    if (i % 5 == 3) f.width = 34, f.height = 61;
    SCOPED_TRACE("content " + std::to_string(i % testing::kContents.size()));
    expect_all_levels_agree(
        draw(f, content, i, Layout{.padding = i % 3 == 0 ? 0 : static_cast<int>(i % 7), .upside_down = i % 4 == 2}));
    if (::testing::Test::HasFailure()) return;
    ++i;
  }
}

// Cells of 32 and 64 samples, so that vectors are filled.
TEST(FrameMeter, WideFrames) {
  unsigned seed = 100;
  for (const Content content : testing::kContents)
    for (const Chroma chroma : {Chroma::c420, Chroma::c444}) {
      PictureFormat f{.width = 1034, .height = 70, .chroma = chroma};
      expect_all_levels_agree(draw(f, content, ++seed));
    }
  PictureFormat f{.width = 3100, .height = 37, .transfer = Transfer::hlg};
  expect_all_levels_agree(draw(f, Content::letterbox, 7));
}

// Where one polynomial holds a whole cell, up to the right edge of the picture.
TEST(FrameMeter, CalmFrames) {
  unsigned seed = 500;
  for (const Transfer transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886})
    for (const Siting siting : {Siting::left, Siting::top_left})
      for (const int bits : {8, 10}) {
        PictureFormat f{.width = bits == 8 ? 1088 : 3136, .height = 34, .bits = bits, .siting = siting};
        f.transfer = transfer;
        if (bits == 8 && siting == Siting::left) f.chroma = Chroma::c422;
        expect_all_levels_agree(draw(f, Content::calm, ++seed));
        if (::testing::Test::HasFailure()) return;
      }
}

// Bars whose edges lie anywhere in a cell: parts of every width, starting at even and odd columns.
TEST(FrameMeter, BarsOfAnyWidth) {
  for (int left = 1; left < 64; left += 3)
    for (const Siting siting : {Siting::left, Siting::centre}) {
      const PictureFormat f{.width = 2080 - left, .height = 9, .siting = siting};
      const auto inside = draw(f, Content::soft, static_cast<unsigned>(left));
      const auto picture = testing::make_picture(f, [&](int plane, int x, int y) {
        const bool bar = plane == 0 && (x < left || x >= 2050 - 2 * left);
        std::uint16_t code = 0;
        const Plane& from = inside.planes[plane];
        std::memcpy(&code, from.data + y * from.stride + std::ptrdiff_t{2} * x, 2);
        return bar ? 64 : code;
      });
      expect_all_levels_agree(picture);
    }
}

TEST(FrameMeter, SmallestFrames) {
  for (const Chroma chroma : {Chroma::c420, Chroma::c422, Chroma::c444, Chroma::grey})
    for (int width = 1; width <= 5; ++width)
      for (int height = 1; height <= 4; ++height) {
        PictureFormat f{.width = width, .height = height, .chroma = chroma, .siting = Siting::centre};
        expect_all_levels_agree(draw(f, Content::noise, static_cast<unsigned>(10 * width + height)));
      }
}

TEST(FrameMeter, EveryGreyCodeAlone) {
  for (int code = 0; code < 1024; code += code < 120 ? 3 : 47) {
    PictureFormat f{.width = 20, .height = 18};
    const auto picture = testing::make_picture(f, [&](int plane, int, int) { return plane == 0 ? code : 512; });
    expect_all_levels_agree(picture);
  }
}

TEST(FrameMeter, LinearStills) {
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  for (const Chroma chroma : {Chroma::rgb, Chroma::grey})
    for (const Content content : testing::kContents) {
      PictureFormat f{.width = 51, .height = 33, .bits = 32, .is_float = true, .chroma = chroma};
      f.transfer = Transfer::linear;
      f.matrix = Matrix::rgb;
      f.peak_cdm2 = 100;
      expect_all_levels_agree(draw(f, content, 5));
      const auto plain = draw(f, content, 6);
      int i = 0;
      const auto odd = testing::make_picture(f, [&](int plane, int x, int y) {
        ++i;
        if (i % 97 == 0) return nan;
        if (i % 89 == 0) return -inf;
        if (x == 31 && y == 20 && plane == 0 && content == Content::noise) return inf;
        return (i % 5 == 0 ? -1 : 20) * (0.01 * x + 0.001 * y);
      });
      expect_all_levels_agree(odd);
    }
  PictureFormat whole{.width = 40, .height = 20, .bits = 16, .chroma = Chroma::rgb, .range = colour::Range::full};
  whole.transfer = Transfer::linear;
  whole.matrix = Matrix::rgb;
  expect_all_levels_agree(draw(whole, Content::noise, 3));
}

TEST(FrameMeter, KeepsIndexTimeAndDamage) {
  auto picture = draw({.width = 32, .height = 32}, Content::soft, 1);
  picture.index = 17;
  picture.time_s = 0.5;
  picture.damaged = true;
  auto meter = FrameMeter::make(picture.format);
  ASSERT_TRUE(meter);
  const auto record = meter->measure(picture);
  ASSERT_TRUE(record);
  EXPECT_EQ(record->figures.index, 17);
  EXPECT_EQ(record->figures.time_s, 0.5);
  EXPECT_TRUE(record->figures.damaged);
  EXPECT_EQ(record->figures.temporal_difference, 0);
}

TEST(FrameMeter, RefusesAnotherFormatAndUnknownLevels) {
  const PictureFormat f{.width = 32, .height = 32};
  auto meter = FrameMeter::make(f);
  ASSERT_TRUE(meter);
  EXPECT_EQ(meter->simd_level(), simd_levels().front());
  EXPECT_EQ(meter->format(), f);
  const auto other = meter->measure(draw({.width = 32, .height = 30}, Content::soft, 1));
  ASSERT_FALSE(other);
  EXPECT_EQ(other.error().code, ErrorCode::invalid_input);
  const auto level = FrameMeter::make(f, "abacus");
  ASSERT_FALSE(level);
  EXPECT_EQ(level.error().code, ErrorCode::unsupported);
  EXPECT_FALSE(FrameMeter::make({.width = 0, .height = 4}));
}

// The same picture, wherever its samples lie in memory, gives the same bytes.
TEST(FrameMeter, DependsOnThePictureAlone) {
  for (const Chroma chroma : {Chroma::c420, Chroma::c422, Chroma::c444, Chroma::rgb}) {
    PictureFormat f{.width = 1031, .height = 41, .chroma = chroma, .siting = Siting::left};
    if (chroma == Chroma::rgb) f.matrix = Matrix::rgb;
    auto meter = FrameMeter::make(f);
    ASSERT_TRUE(meter);
    const auto first = meter->measure(draw(f, Content::soft, 9));
    for (const int padding : {1, 6, 33})
      for (const bool upside_down : {false, true}) {
        const auto again = meter->measure(draw(f, Content::soft, 9, {.padding = padding, .upside_down = upside_down}));
        EXPECT_EQ(*first, *again);
      }
  }
}

}  // namespace
}  // namespace provenit::programme
