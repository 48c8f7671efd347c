#include "fixture.h"

namespace provenit::simulated::testing {
namespace {

TEST(Thermal, WarmingIsTwoExponentialsAndSettles) {
  SimulatedClock clock(kStart);
  auto physics = physics_of("tern-32");
  physics.thermal.wander_luminance = physics.thermal.wander_channel = 0;
  const auto& t = physics.thermal;
  SimulatedDisplay display(physics, clock, {.powered_on = kStart});
  for (const double s : {0.0, 30.0, 300.0, 1800.0, 14400.0}) {
    const auto state = display.thermal(kStart + Seconds{s});
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(state.channel[c], 1 + t.fast[c] * std::exp(-s / t.fast_s) + t.slow[c] * std::exp(-s / t.slow_s),
                  1e-12);
  }
  const auto s = grey(203, 0.1);
  const double cold = display.truth(s, kStart).Y, soon = display.truth(s, kStart + Seconds{600}).Y,
               late = display.truth(s, kStart + Seconds{4 * 3600}).Y, settled = display.truth(s, warm()).Y;
  EXPECT_GT(cold, 1.02 * settled);
  EXPECT_LT(soon, cold);
  EXPECT_NEAR(late / settled, 1, 1e-4);
  EXPECT_NE(xy_of(display.truth(s, kStart)).x, xy_of(display.truth(s, warm())).x);
  // Before it was switched on it counts as cold.
  EXPECT_EQ(display.truth(s, kStart + Seconds{-100}).Y, cold);
}

TEST(Thermal, SpectraMoveAsTheDisplayWarms) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(steady(physics_of("tern-32")), clock, {.powered_on = kStart});
  const auto s = patch({.code = {600, 64, 64}}, 0.1);
  const auto peak_nm = [&](const ThermalState& state) {
    const auto radiance = display.truth_spectrum(s, state).radiance;
    double sum = 0, moment = 0;
    for (int i = 200; i < 401; ++i) {  // the red peak alone
      sum += radiance[i];
      moment += radiance[i] * (380 + i);
    }
    return moment / sum;
  };
  const double shift = peak_nm(warm()) - peak_nm(display.thermal(kStart));
  EXPECT_NEAR(shift, display.physics().primaries[0].warm_shift_nm, 0.1);
}

TEST(Thermal, WanderHasTheStatedSizeAndIsSmooth) {
  SimulatedClock clock(kStart);
  auto physics = physics_of("curlew-27");
  physics.thermal.fast = physics.thermal.slow = {};
  physics.thermal.wander_channel = 0;
  double squares = 0, largest_step = 0;
  constexpr int units = 400;
  for (int seed = 0; seed < units; ++seed) {
    SimulatedDisplay display(physics, clock, {.seed = static_cast<std::uint64_t>(seed)});
    const double a = display.thermal(kStart).common - 1, b = display.thermal(kStart + Seconds{10}).common - 1;
    squares += a * a;
    largest_step = std::max(largest_step, std::abs(b - a));
  }
  const double sigma = physics.thermal.wander_luminance;
  // Relative standard deviation of the estimate of a standard deviation from 400 values: 3.5 %; four of them allowed.
  EXPECT_NEAR(std::sqrt(squares / units) / sigma, 1, 0.14);
  EXPECT_LT(largest_step, 0.2 * sigma);
}

TEST(Thermal, WanderIsAFunctionOfSeedAndTime) {
  SimulatedClock clock(kStart);
  const auto physics = physics_of("curlew-27");
  SimulatedDisplay a(physics, clock, {.seed = 5}), b(physics, clock, {.seed = 5}), other(physics, clock, {.seed = 6});
  const Timestamp at = kStart + Seconds{5000};
  (void)a.thermal(kStart);  // asking at another time first changes nothing
  EXPECT_EQ(a.thermal(at).common, b.thermal(at).common);
  EXPECT_NE(a.thermal(at).common, other.thermal(at).common);
}

TEST(Vary, UnitsOfAKindDifferAndEachIsReproducible) {
  const auto kind = physics_of("tern-32");
  const auto a = vary(kind, 3), b = vary(kind, 3), c = vary(kind, 4);
  EXPECT_EQ(a.peak_cdm2, b.peak_cdm2);
  EXPECT_EQ(a.primaries[1].tracking.back().amount, b.primaries[1].tracking.back().amount);
  EXPECT_NE(a.peak_cdm2, c.peak_cdm2);
}

TEST(Vary, EveryUnitWorksAndStaysNearItsKind) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27"}) {
    const auto kind = physics_of(id);
    SimulatedDisplay typical(kind, clock, {});
    const double peak = typical.truth(white(0.05), warm()).Y, black_level = typical.truth(black(), warm()).Y;
    double spread = 0;
    for (std::uint64_t seed = 0; seed < 100; ++seed) {
      SimulatedDisplay unit(vary(kind, seed), clock, {});
      const double y = unit.truth(white(0.05), warm()).Y;
      EXPECT_NEAR(y / peak, 1, 0.12) << id << " seed " << seed;
      EXPECT_NEAR(std::log(unit.truth(black(), warm()).Y / black_level), 0, 0.8);
      spread += std::pow(y / peak - 1, 2) / 100;
    }
    EXPECT_GT(std::sqrt(spread), 0.005) << id;
  }
}

}  // namespace
}  // namespace provenit::simulated::testing
