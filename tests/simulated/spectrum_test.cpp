#include "fixture.h"
#include "provenit/colour/gamut.h"
#include "provenit/colour/spectrum_xyz.h"

namespace provenit::simulated::testing {
namespace {

TEST(Spectrum, ItsTristimulusValuesAreTheLight) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27", "fluoride-check"}) {
    // Just switched on, so that the cold spectra take part too.
    SimulatedDisplay display(physics_of(id), clock, {.powered_on = kStart});
    ASSERT_TRUE(display.show(patch({.code = {420, 600, 510}}, 0.2)));
    const Timestamp at = kStart + Seconds{40};
    const auto reading = display.spectrum(at);
    const colour::Spectrum spectrum{
        .start_nm = reading.start_nm, .step_nm = reading.step_nm, .values = reading.radiance};
    const auto xyz = colour::xyz_from_radiance(spectrum, {.observer = colour::Observer::cie1931_2deg});
    ASSERT_TRUE(xyz) << xyz.error().text();
    const auto light = display.light(at);
    EXPECT_NEAR(xyz->xyz.X / light.X, 1, 1e-9);
    EXPECT_NEAR(xyz->xyz.Y / light.Y, 1, 1e-9);
    EXPECT_NEAR(xyz->xyz.Z / light.Z, 1, 1e-9);
    for (const double r : reading.radiance) EXPECT_GE(r, -1e-9);
  }
}

TEST(Spectrum, PrimariesAddUpWhereNothingCouplesThem) {
  SimulatedClock clock(kStart);
  auto physics = steady(physics_of("curlew-27"));
  physics.interaction = {};
  physics.limiter.points.clear();
  const auto sum_error = [&clock](const DisplayPhysics& p) {
    SimulatedDisplay display(p, clock, {});
    double sum = 0;
    for (int c = 0; c < 3; ++c) {
      signal::Signal s = grey(100);
      for (int other = 0; other < 3; ++other)
        if (other != c) s.patch.code[other] = 64;
      s.encoding.container = signal::Container::bt709;  // inside the triangle: no channel is cut
      sum += display.truth(s, warm()).Y;
    }
    auto all = grey(100);
    all.encoding.container = signal::Container::bt709;
    const double k = display.truth(black(), warm()).Y;
    return (sum - 2 * k) / display.truth(all, warm()).Y - 1;
  };
  // The channels' own curves bend, so pure BT.709 primaries do not add up exactly; with straight curves they do.
  for (auto& p : physics.primaries) {
    p.tracking.clear();
    p.near_black_knee = 0;
    p.level_shift_nm = 0;
  }
  physics.decoding.panel_bits = 0;
  EXPECT_NEAR(sum_error(physics), 0, 1e-9);
  physics.interaction[1][0] = physics.interaction[0][1] = -0.05;
  EXPECT_GT(sum_error(physics), 0.001);
}

TEST(Spectrum, WhiteAndPeakAreTheOnesAskedFor) {
  SimulatedClock clock(kStart);
  auto physics = steady(physics_of("curlew-27"));
  physics.primaries[2].headroom = physics.primaries[1].headroom = 1;
  for (auto& p : physics.primaries) {
    p.tracking.clear();
    p.near_black_knee = 0;
  }
  physics.leakage.luminance_cdm2 = 0;
  physics.decoding.panel_bits = 0;
  SimulatedDisplay display(physics, clock, {});
  const auto w = display.truth(white(0.01), warm());
  EXPECT_NEAR(w.Y, physics.peak_cdm2, 1e-6);
  EXPECT_NEAR(xy_of(w).x, physics.white.x, 1e-9);
  EXPECT_NEAR(xy_of(w).y, physics.white.y, 1e-9);
}

TEST(Spectrum, PrimariesMoveWithTheirLevel) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("curlew-27")), clock, {});
  const auto bright = xy_of(display.truth(patch({.code = {700, 64, 64}}, 0.01), warm()));
  const auto dim = xy_of(display.truth(patch({.code = {350, 64, 64}}, 0.01), warm()));
  EXPECT_GT(std::hypot(bright.x - dim.x, bright.y - dim.y), 0.0005);
  EXPECT_LT(std::hypot(bright.x - dim.x, bright.y - dim.y), 0.01);
}

// Common practice, no source: narrow-band red fluoride phosphor, blue LED about 450 nm and a green phosphor reach about
// 97 % of P3 and about 77 % of BT.2020 in u'v' area terms. Computed here as coverage: area of the intersection of the
// display's u'v' triangle with the reference triangle over the reference's area. The primaries are read off the display
// as a meter would see them, each driven alone (its own container is P3). The colour filters are an assumption
// (data/simulated/fluoride-check.toml).
TEST(Spectrum, FluorideBacklightReachesTheGamutThatPracticeExpects) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(physics_of("fluoride-check"), clock, {});
  const auto primary = [&display](signal::CodeRgb code) {
    return xy_of(display.truth(patch(code, 1, {.container = signal::Container::p3_d65}), warm()));
  };
  const colour::Primaries<> own{.red = primary({.code = {500, 64, 64}}),
                                .green = primary({.code = {64, 500, 64}}),
                                .blue = primary({.code = {64, 64, 500}}),
                                .white = colour::d65_video};
  const auto plane = colour::ChromaticityPlane::uv_prime;
  EXPECT_NEAR(100 * colour::gamut_coverage(plane, own, colour::p3_d65_primaries), 97, 2);
  EXPECT_NEAR(100 * colour::gamut_coverage(plane, own, colour::bt2020_primaries), 77, 2);
  // As a ratio of areas BT.2020 gives the same: hardly any of the triangle lies outside it.
  EXPECT_NEAR(100 * colour::gamut_area_ratio(plane, own, colour::bt2020_primaries), 77, 2);
}

}  // namespace
}  // namespace provenit::simulated::testing
