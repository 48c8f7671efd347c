// The light of whole pictures: equal to that of a signal where the picture is that signal; and how it moves.
#include "provenit/simulated/frame.h"

#include <gmock/gmock.h>

#include <cmath>

#include "fixture.h"

namespace provenit::simulated {
namespace {

using namespace testing;

constexpr int kWidth = 640, kHeight = 352;  // 16 pixels a zone of Tern 32 both ways

/// The pixels of a signal whose edges lie on pixels' edges.
CodeFrame picture_of(const signal::Signal& s) {
  CodeFrame out{.encoding = s.encoding, .width = kWidth, .height = kHeight, .codes = {}};
  const double half = std::sqrt(s.geometry.area_fraction) / 2;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double u = (x + 0.5) / kWidth, v = (y + 0.5) / kHeight;
      const bool in = s.geometry.shape == signal::Shape::full_field ||
                      (std::abs(u - s.geometry.centre_x) < half && std::abs(v - s.geometry.centre_y) < half);
      const auto& code = (in ? s.patch : s.surround).code;
      out.codes.push_back({static_cast<std::uint16_t>(code[0]), static_cast<std::uint16_t>(code[1]),
                           static_cast<std::uint16_t>(code[2])});
    }
  return out;
}

/// Windows of 1/16 (a quarter of the width), 1/256 and 9/64, some off centre and some on grey.
std::vector<signal::Signal> signals() {
  auto big = white(1.0 / 16), star = white(1.0 / 256), dim = grey(30, 9.0 / 64), corner = white(1.0 / 16);
  dim.surround = grey(2).patch;
  corner.geometry.centre_x = corner.geometry.centre_y = 0.125;
  return {big, star, dim, corner, grey(100), white(), black()};
}

class Frame : public ::testing::TestWithParam<const char*> {
 protected:
  SimulatedClock clock{kStart};
  DisplayPhysics physics = physics_of(GetParam());
  SimulatedDisplay display{physics, clock, {.powered_on = {1.8e9 - 1e6}}};
};
INSTANTIATE_TEST_SUITE_P(Demo, Frame, ::testing::Values("tern-32", "curlew-27"),
                         [](const auto& tested) { return std::string(tested.param).substr(0, 4); });

TEST_P(Frame, APictureOfASignalGivesTheLightOfThatSignal) {
  const FrameScreen screen(physics, {});
  for (const auto& s : signals()) {
    const auto light = screen.settled(picture_of(s));
    ASSERT_TRUE(light.has_value());
    ASSERT_EQ(light->xyz.size(), static_cast<std::size_t>(kWidth * kHeight));
    for (const auto& [x, y] : {std::pair{320, 176}, {37, 41}, {445, 176}, {170, 300}, {639, 0}}) {
      const auto& got = light->xyz[static_cast<std::size_t>(y * kWidth + x)];
      const auto want = display.truth(s, warm(), {.x = (x + 0.5) / kWidth, .y = (y + 0.5) / kHeight});
      EXPECT_NEAR(got[0], want.X, 5e-3 * want.X) << signal::describe(s) << " at " << x << ", " << y;
      EXPECT_NEAR(got[1], want.Y, 5e-3 * want.Y) << signal::describe(s) << " at " << x << ", " << y;
      EXPECT_NEAR(got[2], want.Z, 5e-3 * want.Z) << signal::describe(s) << " at " << x << ", " << y;
    }
  }
}

TEST_P(Frame, StridesPickPoints) {
  const auto picture = picture_of(white(1.0 / 16));
  const auto all = FrameScreen(physics, {}).settled(picture).value();
  const auto few = FrameScreen(physics, {.stride = 4}).settled(picture).value();
  EXPECT_EQ(few.width, kWidth / 4);
  EXPECT_EQ(few.height, kHeight / 4);
  for (int j = 0; j < few.height; j += 7)
    for (int i = 0; i < few.width; i += 5)
      EXPECT_EQ(few.xyz[static_cast<std::size_t>(j * few.width + i)],
                all.xyz[static_cast<std::size_t>((4 * j + 2) * kWidth + 4 * i + 2)]);
}

TEST_P(Frame, StepsArriveAtTheSettledLight) {
  FrameScreen screen(physics, {.stride = 8});
  const auto dark = picture_of(grey(1)), bright = picture_of(white());
  const auto settled = screen.settled(bright).value();
  ASSERT_TRUE(screen.step(dark, {1}).has_value());
  const auto first = screen.step(bright, {1.0 / 24}).value();
  EXPECT_NE(first.xyz, settled.xyz);
  EXPECT_GT(first.cap, settled.cap);  // the limiter has not come down yet
  FrameLight last;
  for (int i = 0; i < 25; ++i) last = screen.step(bright, {0.1}).value();
  for (std::size_t k = 0; k < last.xyz.size(); k += 101)
    EXPECT_NEAR(last.xyz[k][1], settled.xyz[k][1], 1e-3 * settled.xyz[k][1]);
}

TEST_P(Frame, RefusesPixelsThatDoNotFit) {
  auto picture = picture_of(black());
  picture.codes.pop_back();
  EXPECT_FALSE(FrameScreen(physics, {}).settled(picture).has_value());
}

}  // namespace
}  // namespace provenit::simulated
