// Evenness, local dimming, clipping, motion: where things lie and which codes they have.
#include <algorithm>

#include "pictures_support.h"

namespace provenit::signal {
namespace {

using namespace testing;

// Levels used here, PQ 10 bits narrow: 203 cd/m2 573, 1000 cd/m2 723, black 64.

TEST(DisplayPictures, EvennessGridsLieInTheMiddleOfEqualCells) {
  for (const auto& [places, columns, rows] : {std::tuple{9, 3, 3}, {25, 5, 5}, {99, 11, 9}})
    for (const auto size : {RasterSize{3840, 2160}, RasterSize{853, 481}}) {
      const auto boxes = picture("uniformity_boxes", {{"places", places}}, pq10, size);
      const auto field = picture("uniformity_field", {{"places", places}}, pq10, size);
      ASSERT_EQ(boxes.frames(), places);
      const auto all = field.places(0);
      ASSERT_EQ(all.size(), static_cast<std::size_t>(places));
      for (int i = 0; i < places; ++i) {
        const auto box = boxes.places(i)[0];
        EXPECT_EQ(box.area, all[static_cast<std::size_t>(i)].area);
        EXPECT_EQ(box.code, grey(573));
        EXPECT_NEAR(box.area.left + box.area.width / 2.0, size.width * (i % columns + 0.5) / columns, 1);
        EXPECT_NEAR(box.area.top + box.area.height / 2.0, size.height * (i / columns + 0.5) / rows, 1);
        EXPECT_NEAR(box.area.height, 0.08 * size.height, 1);
      }
    }
  EXPECT_EQ(picture("uniformity_boxes").frame_text(5), "box 6 of 9: column 3 row 2");
}

TEST(DisplayPictures, TheBoxWalksEveryBorder) {
  const auto lit = [](const TestPicture& p, int frame) {
    PixelRectangle out{.left = 1920, .top = 1080};
    int right = 0, bottom = 0, count = 0;
    for (int y = 0; y < 1080; ++y) {
      const auto row = p.row(frame, y);
      for (int x = 0; x < 1920; ++x) {
        if (row[static_cast<std::size_t>(3 * x)] == 64) continue;
        out.left = std::min(out.left, x);
        out.top = std::min(out.top, y);
        right = std::max(right, x + 1);
        bottom = std::max(bottom, y + 1);
        ++count;
      }
    }
    out.width = right - out.left;
    out.height = bottom - out.top;
    EXPECT_EQ(count, out.width * out.height);
    return out;
  };
  const nlohmann::json base{{"step_pixels", 24}, {"along_pixels", 12}, {"across_pixels", 30}, {"border_pixels", 3}};
  const auto with = [&](int down, int far) {
    auto parameters = base;
    parameters["down"] = down;
    parameters["far_side"] = far;
    return picture("border_walk", parameters);
  };
  EXPECT_EQ(with(0, 0).frames(), (1920 - 12) / 24 + 1);
  EXPECT_EQ(with(1, 0).frames(), (1080 - 12) / 24 + 1);
  EXPECT_EQ(lit(with(0, 0), 10), (PixelRectangle{.left = 240, .top = 3, .width = 12, .height = 30}));
  EXPECT_EQ(lit(with(0, 1), 79), (PixelRectangle{.left = 1896, .top = 1047, .width = 12, .height = 30}));
  EXPECT_EQ(lit(with(1, 0), 10), (PixelRectangle{.left = 3, .top = 240, .width = 30, .height = 12}));
  EXPECT_EQ(lit(with(1, 1), 44), (PixelRectangle{.left = 1887, .top = 1056, .width = 30, .height = 12}));
  EXPECT_EQ(with(0, 0).frame_text(10), "box at column 11 of 80, pixels 240 to 251 of 1920");
  EXPECT_EQ(with(0, 0).places(10)[0].code, grey(723));
}

TEST(DisplayPictures, StarsAreAsManyAndAsSmallAsAsked) {
  const auto count = [](const TestPicture& p) {
    int lit = 0;
    for (int y = 0; y < 1080; ++y) {
      const auto row = p.row(0, y);
      for (int x = 0; x < 1920; ++x) lit += row[static_cast<std::size_t>(3 * x)] != 64;
    }
    return lit;
  };
  const auto p = picture("stars", {{"stars", 500}, {"seed", 3}});
  const auto stars = p.places(0);
  ASSERT_EQ(stars.size(), 500u);
  int pixels = 0, sizes[4] = {};
  for (const auto& star : stars) {
    EXPECT_EQ(star.area.width, star.area.height);
    ASSERT_TRUE(star.area.width >= 1 && star.area.width <= 3);
    ++sizes[star.area.width];
    pixels += star.area.width * star.area.height;
  }
  EXPECT_EQ(count(p), pixels);
  for (int side = 1; side <= 3; ++side) EXPECT_NEAR(sizes[side], 167, 40);
  EXPECT_EQ(count(picture("stars", {{"stars", 500}, {"largest_pixels", 1}})), 500);
  EXPECT_NE(picture("stars", {{"stars", 500}, {"seed", 4}}).places(0)[0].area, stars[0].area);
}

TEST(DisplayPictures, LetterboxBarsHaveTheirWidth) {
  // 1920 / 2.39 = 803.3: 804 rows of picture, 138 of bar; the object is 15 % of 1080 = 162 pixels.
  const auto p = picture("letterbox_object");
  const auto places = places_by_name(p);
  EXPECT_EQ(places.at("object").area, (PixelRectangle{.left = 879, .top = 138, .width = 162, .height = 162}));
  EXPECT_EQ(places.at("object").code, grey(723));
  for (const char* bar : {"bar beside the object", "same bar, first end", "same bar, last end", "opposite bar"})
    EXPECT_EQ(places.at(bar).code, grey(64)) << bar;
  EXPECT_EQ(pixel(p, 0, 100, 137), grey(64));
  EXPECT_EQ(pixel(p, 0, 100, 138), grey(code_of(pq_signal(2.03), 10, Range::narrow)));
  EXPECT_EQ(pixel(p, 0, 100, 941), pixel(p, 0, 100, 138));
  EXPECT_EQ(pixel(p, 0, 100, 942), grey(64));
  // 1.33 x 1080 = 1436.4: 1436 columns, 242 at each side.
  const auto sides = places_by_name(picture("letterbox_object", {{"aspect", 1.33}}));
  EXPECT_EQ(sides.at("object").area, (PixelRectangle{.left = 242, .top = 459, .width = 162, .height = 162}));
  EXPECT_LT(sides.at("bar beside the object").area.left + sides.at("bar beside the object").area.width, 242);
  EXPECT_GT(sides.at("opposite bar").area.left, 1920 - 242);
}

TEST(DisplayPictures, HaloRingsLieAtTheirDistances) {
  // Disc of 216 pixels, spacing 6 % of 1080 = 65 pixels, rings one pixel thin, 0.003 x 203 cd/m2.
  const auto p = picture("halo_rings");
  const auto ring = grey(code_of(pq_signal(0.609), 10, Range::narrow));
  const auto row = p.row(0, 540);
  EXPECT_EQ(pixel(row, 960 + 107), grey(723));
  EXPECT_EQ(pixel(row, 960 + 108), grey(64));
  for (int k = 1; k <= 6; ++k) {
    const int radius = 108 + 65 * k;
    EXPECT_EQ(pixel(row, 960 + radius - 1), ring) << k;
    EXPECT_EQ(pixel(row, 960 - radius), ring) << k;
    EXPECT_EQ(pixel(row, 960 + radius), grey(64)) << k;
    EXPECT_EQ(pixel(row, 960 + radius - 3), grey(64)) << k;
  }
  const auto places = p.places(0);
  ASSERT_EQ(places.size(), 13u);
  for (const auto& place : places)
    if (place.name != "disc") {
      EXPECT_EQ(place.code, grey(64));
    }
}

TEST(DisplayPictures, ClipStepsGoAroundThePeak) {
  const auto places = places_by_name(picture("clip_steps"));
  int found = 0;
  for (const auto& [name, place] : places) {
    int step = 0;
    char colour[16];
    ASSERT_EQ(std::sscanf(name.c_str(), "%15s step %d", colour, &step), 2) << name;
    const int code = code_of(pq_signal(500 * std::pow(4, (step - 1) / 12.0)), 10, Range::narrow);
    const std::string c = colour;
    // Light of each channel of the step's: own numbers, as the picture's purpose has them.
    const std::map<std::string, std::array<double, 3>> shares{
        {"white", {1, 1, 1}},      {"red", {1, 0, 0}},      {"green", {0, 1, 0}},      {"blue", {0, 0, 1}},
        {"orange", {1, 0.4, 0.1}}, {"mint", {0.2, 1, 0.5}}, {"violet", {0.4, 0.15, 1}}};
    // Ends and steps are themselves those of whole codes: one code of tolerance.
    for (std::size_t i = 0; i < 3; ++i) {
      const double share = shares.at(c)[i];
      const double light = 500 * std::pow(4, (step - 1) / 12.0) * share;
      const int own = share == 1 ? code : share == 0 ? 64 : code_of(pq_signal(light), 10, Range::narrow);
      EXPECT_NEAR(place.code.code[i], own, share > 0 ? 1 : 0) << name;
    }
    ++found;
  }
  EXPECT_EQ(found, 91);
  // The last step is lost in its ground, the one before is not.
  const auto p = picture("clip_steps");
  const auto all = p.places(0);
  EXPECT_EQ(pixel(p, 0, all[12].area.left - 1, all[12].area.top), all[12].code);
  EXPECT_NE(pixel(p, 0, all[11].area.left - 1, all[11].area.top), all[11].code);
  // Encodings that end sooner.
  EXPECT_EQ(picture("clip_steps", nlohmann::json::object(), sdr8_full).places(0)[12].code, grey(255));
  EXPECT_EQ(picture("clip_steps", nlohmann::json::object(), sdr10).places(0)[12].code, grey(1019));
  EXPECT_FALSE(ask("clip_steps", {{"claimed_cdm2", 4000}}, hlg10));
}

TEST(DisplayPictures, TheBarMovesByItsPixels) {
  const auto p = picture("moving_bar", {{"pixels_per_frame", 7}, {"bar_pixels", 50}});
  EXPECT_EQ(p.frames(), (1920 + 6) / 7);
  for (const int frame : {0, 1, 100, 274}) {
    const auto row = p.row(frame, 540);
    for (int x = 0; x < 1920; ++x) {
      const int from_left = (x - 7 * frame % 1920 + 1920) % 1920;
      ASSERT_EQ(row[static_cast<std::size_t>(3 * x)] != 64, from_left < 50) << frame << ' ' << x;
    }
  }
}

TEST(DisplayPictures, TheCombHasFourBarsOfEachWidth) {
  const auto runs = [](const std::vector<std::uint16_t>& row) {
    std::vector<int> lit;
    int length = 0;
    for (std::size_t i = 0; i <= row.size() / 3; ++i) {
      const bool on = i < row.size() / 3 && row[3 * i] != 64;
      if (on) ++length;
      if (!on && length > 0) lit.push_back(std::exchange(length, 0));
    }
    return lit;
  };
  const std::vector<int> widths{1, 1, 1, 1, 2, 2, 2, 2, 4, 4, 4, 4, 8, 8, 8, 8, 16, 16, 16, 16, 32, 32, 32, 32};
  const auto p = picture("blur_comb");
  EXPECT_EQ(runs(p.row(0, 1080 * 6 / 8)), widths);
  EXPECT_EQ(runs(p.row(0, 1080 * 2 / 8)), widths);
  EXPECT_EQ(p.row(9, 1080 * 6 / 8), p.row(0, 1080 * 6 / 8)) << "the lower one is still";
  auto moved = p.row(9, 1080 * 2 / 8);
  std::ranges::rotate(moved, moved.begin() + 3L * 9 * 8);
  EXPECT_EQ(moved, p.row(0, 1080 * 2 / 8));
}

}  // namespace
}  // namespace provenit::signal
