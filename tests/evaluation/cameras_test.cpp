// Zones from a camera's clip, uniformity from a camera's pictures: simulated cameras of known displays.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "simulated_cameras.h"

namespace provenit::evaluation {
namespace {

using testing::HasSubstr;

/// A walk across 24 zones, filmed at 60 frames a second.
struct Filmed {
  WalkClip clip;
  WalkPath path;
};
constexpr double kRoom = 0.05;

Filmed filmed(simulated::FilmCamera camera = {.width = 96, .height = 54, .room_light = kRoom, .exposure = {}},
              double lost = 0) {
  auto physics = *simulated::built_in_physics("tern-32");
  physics.zones->columns = 24, physics.zones->rows = 13;
  const simulated::BoxWalk walk{.step = 4, .along = 8, .across = 16, .black_after_s = 1.5};
  bench::Chance chance(5);
  return {.clip = bench::clip_of(simulated::WalkFilm(physics, walk, camera), camera, lost, chance),
          .path = bench::path_of(walk)};
}

bool says(const ClipCount& count, const char* words) {
  return std::ranges::any_of(count.flags, [&](const auto& flag) { return flag.find(words) != std::string::npos; });
}

TEST(ZoneClip, CountsTheZonesOfSeededWalks) {
  int seen = 0;
  for (std::uint64_t seed = 7001; seed < 7004; ++seed) {
    const auto walk = bench::simulated_clip(seed);
    const auto found = count_zones(walk.clip, walk.path);
    if (!found || !found->zones.steps_seen) continue;
    ++seen;
    EXPECT_TRUE(found->zones.count.interval.contains(walk.zones)) << seed << ": " << found->zones.zones;
  }
  EXPECT_GE(seen, 2);
}

TEST(ZoneClip, ASteadyCameraIsTrustedAndOneWhoseExposureChangesIsNot) {
  const auto steady = filmed();
  const auto count = count_zones(steady.clip, steady.path).value();
  EXPECT_EQ(count.zones.zones, 24);
  EXPECT_TRUE(count.flags.empty()) << count.flags.front();
  ASSERT_TRUE(count.exposure_change);
  EXPECT_LT(*count.exposure_change, 0.03);
  const auto changing =
      filmed({.width = 96, .height = 54, .room_light = kRoom, .exposure = [](double t) { return t < 4 ? 1 : 0.8; }});
  const auto told = count_zones(changing.clip, changing.path).value();
  EXPECT_NEAR(*told.exposure_change, 0.25, 0.04);  // over the middle, which is the lower one
  EXPECT_TRUE(says(told, "exposure changes"));
  auto dark = filmed({.width = 96, .height = 54, .room_light = 0, .exposure = {}});
  EXPECT_TRUE(says(count_zones(dark.clip, dark.path).value(), "could not be seen"));
}

TEST(ZoneClip, LostFramesAreSaidAndTooManyRefused) {
  const auto some = filmed({.width = 96, .height = 54, .exposure = {}}, 0.03);
  const auto count = count_zones(some.clip, some.path).value();
  EXPECT_GT(count.lost, 0);
  EXPECT_TRUE(says(count, "missing or damaged"));
  const auto many = filmed({.width = 96, .height = 54, .exposure = {}}, 0.6);
  EXPECT_THAT(count_zones(many.clip, many.path).error().text(),
              HasSubstr("no frame of the camera, the first being frame"));
}

TEST(ZoneClip, AWrongClipIsRefusedNamingTheFrame) {
  const auto right = filmed();
  const auto refused = [&](auto&& change, std::optional<double> start = {}) {
    auto wrong = right;
    change(wrong);
    const auto found = count_zones(wrong.clip, wrong.path, start);
    return found ? std::string("not refused") : found.error().text();
  };
  const auto keep = [](WalkClip& clip, std::size_t from, std::size_t to) {
    const auto places = static_cast<std::ptrdiff_t>(clip.places);
    const auto a = static_cast<std::ptrdiff_t>(from), b = static_cast<std::ptrdiff_t>(to);
    clip.light = {clip.light.begin() + a * places, clip.light.begin() + b * places};
    clip.time_s = {clip.time_s.begin() + a, clip.time_s.begin() + b};
  };
  EXPECT_THAT(refused([&](Filmed& f) { keep(f.clip, 0, 400); }), HasSubstr("ends with its frame 399"));
  EXPECT_THAT(refused([&](Filmed& f) { keep(f.clip, 0, 40); }), HasSubstr("40 frames"));
  EXPECT_THAT(refused([](Filmed& f) { f.path.frame_s *= 1.1; }), HasSubstr("lasts"));
  EXPECT_THAT(refused([](Filmed& f) { f.path.frame_s = 0.01; }), HasSubstr("camera takes a frame each"));
  EXPECT_THAT(refused([](Filmed& f) { std::swap(f.clip.time_s[70], f.clip.time_s[71]); }), HasSubstr("frame 71"));
  EXPECT_THAT(refused([](Filmed& f) { std::ranges::fill(f.clip.light, 0.25F); }), HasSubstr("no place in the clip"));
  EXPECT_THAT(refused([](Filmed& f) { f.clip.light.pop_back(); }), HasSubstr("frames and places"));
}

TEST(FieldPicture, HoldsTheTruthOfSeededDisplays) {
  int held = 0;
  for (std::uint64_t seed = 7001; seed < 7006; ++seed) {
    auto taken = bench::simulated_field(seed);
    taken.options.draws = 400;
    const auto found = measure_field(taken.field, taken.again, taken.flat, taken.options);
    ASSERT_TRUE(found) << found.error().text();
    ASSERT_EQ(found->size(), 3u);
    for (const auto& grid : *found) {
      EXPECT_EQ(grid.points.size(), static_cast<std::size_t>(grid.columns * grid.rows));
      held += grid.nonuniformity.interval.contains(taken.nonuniformity(grid.columns, grid.rows));
    }
  }
  EXPECT_GE(held, 12);  // of 15
}

TEST(FieldPicture, TintIsWhereTheDisplayHasIt) {
  simulated::FieldCamera camera{.crosstalk = 0, .noise = 0.002, .flat_error = 0};
  const auto light = [](double u, double) { return std::array{1 + 0.1 * (u - 0.5), 1.0, 1.0}; };
  FieldOptions options{.flat_relative = 0, .draws = 200};
  const auto found = measure_field(bench::as_linear(simulated::field_picture(light, camera, 0)),
                                   bench::as_linear(simulated::field_picture(light, camera, 1)),
                                   bench::as_linear(simulated::flat_picture(camera)), options);
  ASSERT_TRUE(found) << found.error().text();
  for (const auto& p : found->at(1).points) {
    EXPECT_NEAR(p.red_to_green, 1 + 0.1 * (p.u - 0.5), 0.002);
    EXPECT_NEAR(p.blue_to_green, 1, 0.002);
    EXPECT_NEAR(p.percent, 100 * (1 + 0.02627 * (p.u - 0.5)), 0.2);
  }
}

TEST(FieldPicture, WhatCannotBeUsedIsRefused) {
  const simulated::FieldCamera camera{.width = 320, .height = 200};
  const auto light = [](double, double) { return std::array{1.0, 1.0, 1.0}; };
  const auto picture = [&](const simulated::FieldCamera& c) {
    return bench::as_linear(simulated::field_picture(light, c, 0));
  };
  const auto field = picture(camera), flat = bench::as_linear(simulated::flat_picture(camera));
  const auto error = [&](const LinearPicture& a, const LinearPicture& b, const LinearPicture& c) {
    const auto found = measure_field(a, b, c, {.draws = 200});
    return found ? std::string("not refused") : found.error().text();
  };
  EXPECT_EQ(error(field, field, flat), "not refused");
  auto moved = camera, bright = camera, cut = camera, smaller = camera;
  moved.shift = {0.01, 0};
  bright.exposure = 1.3;
  cut.shift = {0.15, 0};
  smaller.width = 300;
  EXPECT_THAT(error(field, picture(moved), flat), HasSubstr("moved"));
  EXPECT_THAT(error(picture(bright), field, flat), HasSubstr("overexposed"));
  EXPECT_THAT(error(picture(cut), picture(cut), flat), HasSubstr("right side of the display cannot be seen"));
  EXPECT_THAT(error(field, picture(smaller), flat), HasSubstr("300 x 200"));
  EXPECT_THAT(error(field, field, field), HasSubstr("dark in a part"));
}

}  // namespace
}  // namespace provenit::evaluation
