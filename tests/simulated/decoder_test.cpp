// What the display makes of code values, seen through its light.
#include "fixture.h"
#include "provenit/colour/transfer_hlg.h"
#include "provenit/colour/transfer_sdr.h"

namespace provenit::simulated::testing {
namespace {

/// The fluoride check display has no errors of its own: it must follow the standards exactly.
class IdealDisplay : public ::testing::Test {
 protected:
  SimulatedClock clock{kStart};
  SimulatedDisplay display{physics_of("fluoride-check"), clock, {}};
  double luminance(const signal::Signal& s) { return display.truth(s, warm()).Y; }
};

TEST_F(IdealDisplay, FollowsPqInEveryDepthAndRange) {
  for (const int bits : {8, 10, 12, 16})
    for (const auto range : {signal::Range::narrow, signal::Range::full}) {
      const signal::Encoding encoding{.bits = bits, .range = range};
      for (const double cdm2 : {0.05, 1.0, 20.0, 203.0, 480.0}) {
        const auto s = grey(cdm2, 1, encoding);
        const double expected = colour::pq_eotf(colour::Signal<>{.value = signal_of(s)}).cdm2;
        EXPECT_NEAR(luminance(s) / expected, 1, 1e-9) << bits << " bits, " << cdm2;
      }
    }
}

TEST_F(IdealDisplay, FollowsHlgAndBt1886AtTheNominalPeak) {
  signal::Encoding encoding{.transfer = signal::Transfer::hlg, .nominal_peak_cdm2 = 500};
  const colour::HlgDisplay<> hlg{.peak = {.cdm2 = 500},
                                 .black = {},
                                 .system_gamma = colour::hlg_system_gamma_basic(colour::Luminance<>{.cdm2 = 500})};
  for (const double e : {0.1, 0.38, 0.75, 0.97}) {
    const auto s = patch(signal::grey_code(encoding, colour::Signal<>{.value = e}), 1, encoding);
    EXPECT_NEAR(luminance(s), colour::hlg_eotf_grey(colour::Signal<>{.value = signal_of(s)}, hlg).cdm2, 1e-6) << e;
  }
  encoding = {.transfer = signal::Transfer::bt1886, .container = signal::Container::bt709, .nominal_peak_cdm2 = 100};
  for (const double e : {0.1, 0.5, 1.0}) {
    const auto s = patch(signal::grey_code(encoding, colour::Signal<>{.value = e}), 1, encoding);
    EXPECT_NEAR(luminance(s), 100 * std::pow(signal_of(s), 2.4), 1e-6) << e;
  }
}

TEST_F(IdealDisplay, ClipsAtItsPeakAndShowsNothingBelowBlack) {
  EXPECT_NEAR(luminance(white()), 500, 1e-9);
  EXPECT_EQ(luminance(patch({.code = {4, 4, 4}})), 0);
}

TEST_F(IdealDisplay, TheSameLightInTwoContainersIsTheSameWhite) {
  const auto a = display.truth(grey(100), warm());
  const auto b = display.truth(grey(100, 1, {.container = signal::Container::bt709}), warm());
  EXPECT_NEAR(a.X, b.X, 1e-9);
  EXPECT_NEAR(a.Z, b.Z, 1e-9);
}

TEST_F(IdealDisplay, LightOutsideItsTriangleIsCutToTheTriangle) {
  // BT.2020 red and the display's own red (what P3 red asks for): the former can be no purer.
  const auto wide = xy_of(display.truth(patch({.code = {500, 64, 64}}), warm()));
  const auto own =
      xy_of(display.truth(patch({.code = {500, 64, 64}}, 1, {.container = signal::Container::p3_d65}), warm()));
  EXPECT_NEAR(wide.x, own.x, 0.003);
  EXPECT_NEAR(wide.y, own.y, 0.003);
}

TEST(Decoder, RealisticDisplaysTrackPqWithinAFewPercent) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27"}) {
    SimulatedDisplay display(physics_of(id), clock, {});
    bool wrong_somewhere = false;
    for (const double cdm2 : {1.0, 5.0, 30.0, 100.0, 203.0, 400.0, 700.0}) {
      const auto s = grey(cdm2, 0.04);
      const double ratio = display.truth(s, warm()).Y / colour::pq_eotf(colour::Signal<>{.value = signal_of(s)}).cdm2;
      EXPECT_NEAR(ratio, 1, 0.08) << id << " at " << cdm2;
      wrong_somewhere = wrong_somewhere || std::abs(ratio - 1) > 0.005;
    }
    EXPECT_TRUE(wrong_somewhere) << id;
  }
}

TEST(Decoder, LightRisesWithCodeUpToTheClip) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27"}) {
    SimulatedDisplay display(physics_of(id), clock, {});
    double before = -1;
    for (int code = 64; code <= 940; code += 2) {
      const double y = display.truth(patch({.code = {code, code, code}}, 0.04), warm()).Y;
      EXPECT_GE(y, before * (1 - 1e-4)) << id << " code " << code;
      before = y;
    }
  }
}

TEST(Decoder, SaturatedColoursKeepTheirHueAboveTheClip) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27"}) {
    const auto physics = physics_of(id);
    SimulatedDisplay display(physics, clock, {});
    const double clip = physics.decoding.believed_peak_cdm2 * (2 - physics.decoding.roll_off_start);
    auto at_clip = grey(1.02 * clip, 0.04), far_above = white(0.04);
    for (auto* s : {&at_clip, &far_above}) s->patch.code[0] = s->patch.code[1] = 64;
    EXPECT_EQ(display.truth(at_clip, warm()).Y, display.truth(far_above, warm()).Y) << id;
    EXPECT_EQ(display.truth(at_clip, warm()).Z, display.truth(far_above, warm()).Z) << id;
  }
}

TEST(Decoder, ShowRefusesASignalThatIsNone) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(physics_of("tern-32"), clock, {});
  auto s = white();
  s.patch.code = {2000, 0, 0};
  const auto shown = display.show(s);
  ASSERT_FALSE(shown);
  EXPECT_EQ(shown.error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace provenit::simulated::testing
