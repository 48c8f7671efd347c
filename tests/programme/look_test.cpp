// Drawings, and single frames out of files.
#include "provenit/programme/look.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstring>

#include "kernel_picture.h"
#include "provenit/colour/transfer_sdr.h"

namespace provenit::programme {
namespace {

std::string media(const std::string& name) {
  return std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/" + name;
}

/// Linear light of one colour, cd/m2, BT.2020.
LightImage flat(double r, double g, double b, int width = 60, int height = 40, Gamut gamut = Gamut::bt2020) {
  const PictureFormat f{.width = width,
                        .height = height,
                        .bits = 32,
                        .is_float = true,
                        .chroma = Chroma::rgb,
                        .range = colour::Range::full,
                        .transfer = Transfer::linear,
                        .gamut = gamut,
                        .matrix = Matrix::rgb,
                        .peak_cdm2 = 1};
  return light_image(testing::make_picture(f, [&](int plane, int, int) { return plane == 0   ? r
                                                                                : plane == 1 ? g
                                                                                             : b; }))
      .value();
}
std::size_t points_of(const Drawing& d, const Ink& ink) {
  std::size_t n = 0;
  for (std::size_t i = 0; i + 2 < d.samples.size(); i += 3)
    n += d.samples[i] == ink[0] && d.samples[i + 1] == ink[1] && d.samples[i + 2] == ink[2] ? 1U : 0U;
  return n;
}

TEST(Look, EveryViewHasANameAndADrawing) {
  const auto image = flat(203, 180, 90);
  for (const View view : kViews) {
    EXPECT_EQ(view_from_name(name_of(view)), view);
    const auto d = draw(view, image, {.source = "a.exr"});
    EXPECT_GE(d.width, 700);
    EXPECT_EQ(d.samples.size(), 3U * static_cast<unsigned>(d.width) * static_cast<unsigned>(d.height)) << name_of(view);
  }
  EXPECT_FALSE(view_from_name("wave"));
}

TEST(Look, EveryShapeOfPictureIsDrawn) {
  for (const auto& [w, h] : {std::pair{1, 1}, {3000, 2}, {7, 900}})
    for (const View view : kViews)
      EXPECT_GT(draw(view, flat(10, 10, 10, w, h), {.source = std::string(300, 'n')}).width, 0);
  for (const View view : kViews) EXPECT_GT(draw(view, flat(0, 0, 0, 3, 3), {}).width, 0);
  for (const View view : kViews) EXPECT_GT(draw(view, flat(60000, 1e30, 0, 3, 3), {}).width, 0);
}

TEST(Look, FalseColourShowsTheColourOfTheLuminance) {
  const auto image = flat(150, 150, 150);
  const auto d = draw(View::false_colour, image, {});
  // 60 x 40 magnified to fit 1280 x 760: 19 times, that is 361 points a pixel.
  EXPECT_GE(points_of(d, FalseColour().of(150)), 60U * 40 * 361);
  EXPECT_EQ(points_of(d, FalseColour().of(2.5)) / 1000, 0U);
}

TEST(Look, FalseColourOfALargePictureIsThatOfTheMeanLight) {
  PictureFormat f{.width = 2560,
                  .height = 8,
                  .bits = 32,
                  .is_float = true,
                  .chroma = Chroma::rgb,
                  .range = colour::Range::full,
                  .transfer = Transfer::linear,
                  .matrix = Matrix::rgb,
                  .peak_cdm2 = 1};
  const auto image =
      light_image(testing::make_picture(f, [](int, int x, int) { return x % 2 == 0 ? 10.0 : 30.0; })).value();
  EXPECT_GE(points_of(draw(View::false_colour, image, {}), FalseColour().of(20)), 1280U * 4);
}

TEST(Look, GamutTellsTheTwoBordersApart) {
  const Ink warm{0xe9e9, 0xb4b4, 0x4c4c};
  const auto at = [&](const LightImage& image) {
    return points_of(draw(View::gamut, image, {}), {0xffff, 0xffff, 0xffff});
  };
  // Pure BT.2020 red lies beyond P3: dots, of 90 % white over grey, and blue; P3 red: stripes.
  const auto inside = draw(View::gamut, flat(50, 50, 50), {}),
             p3 = draw(View::gamut, flat(50, 0, 0, 60, 40, Gamut::p3_d65), {}),
             beyond = draw(View::gamut, flat(50, 0, 0), {});
  EXPECT_NE(inside.samples, p3.samples);
  EXPECT_NE(p3.samples, beyond.samples);
  EXPECT_GT(points_of(inside, warm), 100U) << "the legend";
  EXPECT_GE(at(flat(50, 0, 0)), 100U) << "the legend";
}

TEST(Look, SdrShowsBothMethodsHalfAndHalf) {
  const auto d = draw(View::sdr, flat(203, 203, 203), {.source_peak_cdm2 = 1000});
  for (const auto method : {SdrMethod::bt2390_eetf, SdrMethod::bt2446_a}) {
    const auto s = to_sdr({.r = 203, .g = 203, .b = 203}, Gamut::bt2020, method, 1000);
    const auto code = [](double v) {
      const double light = colour::power_eotf(colour::Signal<>{.value = v}, 2.4).value;
      return static_cast<std::uint16_t>(
          std::lround(65535 * colour::srgb_inverse_eotf(colour::Relative<>{.value = light}).value));
    };
    // The float light makes the last bit uncertain: any of the neighbours.
    std::size_t n = 0;
    for (int r = -1; r <= 1; ++r)
      for (int g = -1; g <= 1; ++g)
        for (int b = -1; b <= 1; ++b)
          n += points_of(d, {static_cast<std::uint16_t>(code(s.r) + r), static_cast<std::uint16_t>(code(s.g) + g),
                             static_cast<std::uint16_t>(code(s.b) + b)});
    EXPECT_GE(n, 60U * 40 * 361 / 2 - 40U * 19) << name_of(method);
  }
}

TEST(Look, PngSaysSrgb) {
  const auto png = png_of(draw(View::histogram, flat(1, 1, 1), {})).value();
  EXPECT_EQ(png.substr(1, 3), "PNG");
  EXPECT_NE(png.find(std::string("cICP\x01\x0d\x00\x01", 8)), std::string::npos);
  EXPECT_FALSE(png_of({}));
}

TEST(Look, ContactSheetHoldsEveryEntry) {
  std::vector<SheetEntry> entries;
  for (int i = 0; i < 6; ++i)
    entries.push_back({.preview = sheet_preview(flat(100.0 + 20 * i, 90, 80, 640, 360), 1000), .lines = {"a", "b"}});
  EXPECT_LE(entries[0].preview.width, kPreviewWidth);
  EXPECT_LE(entries[0].preview.height, kPreviewHeight);
  const auto sheet = contact_sheet(entries, "title", "note");
  for (const auto& e : entries)
    EXPECT_GE(points_of(sheet, {e.preview.samples[0], e.preview.samples[1], e.preview.samples[2]}),
              static_cast<std::size_t>(e.preview.width * e.preview.height));
  EXPECT_EQ(contact_sheet({}, "title", "note").width, 0);
}

TEST(Look, TimesAsText) {
  EXPECT_EQ(time_text(0), "0:00:00.000");
  EXPECT_EQ(time_text(3723.5), "1:02:03.500");
  EXPECT_EQ(time_text(59.9996), "0:01:00.000");
}

// Frames of files
// -------------------------------------------------------------------------------------------------------

bool same_luma(const Picture& a, const Picture& b) {
  for (int y = 0; y < a.format.height; ++y)
    if (std::memcmp(a.planes[0].data + y * a.planes[0].stride, b.planes[0].data + y * b.planes[0].stride,
                    2 * static_cast<std::size_t>(a.format.width)) != 0)
      return false;
  return true;
}

TEST(ChooseFrames, ByNumberAndByTimeAreTheFramesOfAReader) {
  const std::string path = media("hdr10-video-with-sdr-container.mp4");  // 28 frames, 30 a second
  const std::vector<FrameChoice> choices{{.frame = 27}, {.time_s = 0.1}, {.frame = 0}};
  const auto chosen = choose_frames(path, choices).value();
  ASSERT_EQ(chosen.pictures.size(), 3U);
  auto reader = open_reader(path).value();
  std::vector<Picture> all;
  while (auto p = reader->next().value()) all.push_back(*p);
  ASSERT_EQ(all.size(), 28U);
  const auto shown = std::ranges::count_if(all, [](const Picture& p) { return p.time_s <= 0.1; }) - 1;
  for (std::size_t i = 0; i < 3; ++i) {
    const auto& p = chosen.pictures[i];
    EXPECT_EQ(p.index, (std::array<std::int64_t, 3>{27, shown, 0})[i]);
    const auto& q = all[static_cast<std::size_t>(p.index)];
    EXPECT_EQ(p.time_s, q.time_s);
    EXPECT_TRUE(same_luma(p, q));
  }
}

TEST(ChooseFrames, BeyondTheSourceIsRefusedWithItsEnd) {
  for (const auto& choice : {FrameChoice{.frame = 28}, {.frame = -1}, {.time_s = 2.0}, {.time_s = -0.5}}) {
    const auto chosen = choose_frames(media("hdr10-video-with-sdr-container.mp4"), {&choice, 1});
    ASSERT_FALSE(chosen);
    EXPECT_EQ(chosen.error().code, ErrorCode::out_of_range);
    EXPECT_NE(chosen.error().advice.find(choice.frame ? "27" : "0:00:00."), std::string::npos) << chosen.error().advice;
  }
}

TEST(ChooseFrames, AStillHasOneFrame) {
  const FrameChoice first{.time_s = 0}, later{.time_s = 1}, second{.frame = 1};
  ASSERT_TRUE(choose_frames(media("seine_hdr_rec2020.avif"), {&first, 1}));
  EXPECT_EQ(choose_frames(media("seine_hdr_rec2020.avif"), {&later, 1}).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(choose_frames(media("seine_hdr_rec2020.avif"), {&second, 1}).error().code, ErrorCode::out_of_range);
}

TEST(ChooseFrames, WhatCannotBeReadIsAnError) {
  const FrameChoice first{.frame = 0};
  EXPECT_EQ(choose_frames(media("no such.mp4"), {&first, 1}).error().code, ErrorCode::not_found);
  EXPECT_FALSE(choose_frames(media("README.md"), {&first, 1}));
}

TEST(Sdr, RollsOffFromTheDeclaredMaximumWhereItIsPossible) {
  SourceInfo info;
  EXPECT_EQ(sdr_source_peak(info), 1000);
  info.metadata.mastering = StaticMetadata::Mastering{.maximum_cdm2 = 4000};
  EXPECT_EQ(sdr_source_peak(info), 4000);
  info.metadata.mastering->maximum_cdm2 = 0.1;
  EXPECT_EQ(sdr_source_peak(info), 1000);
  info.format.transfer = Transfer::bt1886, info.format.peak_cdm2 = 100;
  EXPECT_EQ(sdr_source_peak(info), 100);
}

}  // namespace
}  // namespace provenit::programme
