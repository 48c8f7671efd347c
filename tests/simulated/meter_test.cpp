#include <array>
#include <vector>

#include "fixture.h"

namespace provenit::simulated::testing {
namespace {

/// A meter without systematic errors.
MeterModel exact_meter() {
  MeterModel m;
  m.certificate.luminance_expanded_relative = m.certificate.x_expanded = m.certificate.y_expanded = 0;
  return m;
}

class Meter : public ::testing::Test {
 protected:
  SimulatedClock clock{kStart};
  SimulatedDisplay display{steady(physics_of("curlew-27")), clock, {}};
};

TEST_F(Meter, NoiseOfYFollowsTheStatedModel) {
  MeterModel model = exact_meter();
  model.capabilities.repeatability_relative = 0.004;
  model.capabilities.noise_floor_cdm2 = 0.0004;
  model.capabilities.shot_noise = 0.004;
  SimulatedMeter meter(model, display, clock, 11);
  std::int64_t index = 0;
  std::vector<double> standard;
  // Dominated by the floor, by shot noise, and by repeatability.
  for (const double cdm2 : {0.003, 0.08, 200.0}) {
    ASSERT_TRUE(display.show(grey(cdm2, 0.02)));
    clock.wait({5});
    const double y = display.light(clock.now()).Y;
    constexpr int readings = 3000;
    double chi_square = 0, integration = 0;
    for (int i = 0; i < readings; ++i) {
      const auto m = meter.measure(index++);
      ASSERT_TRUE(m);
      integration = m->integration.s;
      const double variance = std::pow(0.004 * y, 2) + std::pow(0.004, 2) * y / integration + std::pow(0.0004, 2);
      standard.push_back((m->xyz.Y - y) / std::sqrt(variance));
      chi_square += standard.back() * standard.back();
    }
    // Chi-square with 3000 degrees of freedom: mean 3000, standard deviation 77.5; four of them allowed.
    EXPECT_NEAR(chi_square, readings, 4 * std::sqrt(2.0 * readings)) << cdm2 << " cd/m2, t = " << integration;
  }
  // And it is normal: 20 classes of equal probability; 43.8 is the 99.9 % point of chi-square with 19 degrees of
  // freedom.
  std::array<double, 20> classes{};
  for (const double z : standard)
    classes[std::min<std::size_t>(19, static_cast<std::size_t>(20 * 0.5 * std::erfc(-z / std::sqrt(2.0))))] += 1;
  double chi_square = 0;
  const double expected = static_cast<double>(standard.size()) / 20;
  for (const double n : classes) chi_square += (n - expected) * (n - expected) / expected;
  EXPECT_LT(chi_square, 43.8);
}

TEST_F(Meter, NoiseIsIndependentBetweenReadingsAndAtTheFloorBetweenChannels) {
  MeterModel model = exact_meter();
  model.capabilities.noise_floor_cdm2 = 0.01;
  SimulatedMeter meter(model, display, clock, 3);
  ASSERT_TRUE(display.show(black()));
  clock.wait({5});
  constexpr int n = 2000;
  std::array<std::vector<double>, 3> values;
  for (int i = 0; i < n; ++i) {
    const auto m = meter.measure(i);
    values[0].push_back(m->xyz.X);
    values[1].push_back(m->xyz.Y);
    values[2].push_back(m->xyz.Z);
  }
  for (int a = 0; a < 3; ++a)
    for (int b = 0; b < 3; ++b)
      for (int lag = 0; lag < 4; ++lag) {
        if (a == b && lag == 0) continue;
        double product = 0;
        for (int i = lag; i < n; ++i) product += values[a][i] * values[b][i - lag] / n;
        EXPECT_NEAR(product / (0.01 * 0.01), 0, 4.5 / std::sqrt(n)) << a << b << " lag " << lag;
      }
}

TEST_F(Meter, ErrorsOverManyMetersMatchTheCertificate) {
  MeterModel model;
  model.certificate = {.luminance_expanded_relative = 0.03,
                       .x_expanded = 0.002,
                       .y_expanded = 0.001,
                       .coverage_factor = 2,
                       .zero_offset_standard_cdm2 = 0.0003};
  constexpr int meters = 2000;
  std::array<double, 6> sum{}, squares{};
  double product_xy = 0;
  for (int i = 0; i < meters; ++i) {
    const SimulatedMeter meter(model, display, clock, static_cast<std::uint64_t>(i));
    const auto& e = meter.errors();
    const std::array<double, 6> z{
        e.luminance_relative / 0.015, e.x / 0.001, e.y / 0.0005, e.zero_cdm2[0] / 0.0003, e.zero_cdm2[1] / 0.0003,
        e.zero_cdm2[2] / 0.0003};
    for (int k = 0; k < 6; ++k) {
      sum[k] += z[k];
      squares[k] += z[k] * z[k];
    }
    product_xy += z[1] * z[2];
  }
  for (int k = 0; k < 6; ++k) {
    EXPECT_NEAR(sum[k] / meters, 0, 4 / std::sqrt(meters)) << k;
    EXPECT_NEAR(squares[k], meters, 4 * std::sqrt(2.0 * meters)) << k;
  }
  EXPECT_NEAR(product_xy / meters, 0, 4 / std::sqrt(meters));
}

TEST_F(Meter, ItsErrorsAreThoseThatWereDrawn) {
  MeterModel model;
  model.mismatch = 0.004;
  const SimulatedMeter meter(model, display, clock, 21);
  const auto& e = meter.errors();
  const auto light = display.truth(white(), warm());
  const auto read = meter.without_noise(light);
  EXPECT_NEAR(read.Y / light.Y, 1 + e.luminance_relative, 1e-12);
  EXPECT_NEAR(xy_of(read).x - xy_of(light).x, e.x, 1e-12);
  EXPECT_NEAR(xy_of(read).y - xy_of(light).y, e.y, 1e-12);
  EXPECT_NE(e.luminance_relative, 0);
  // A primary shows the mismatch of the filters, beside the common scale.
  const auto red = display.truth(patch({.code = {600, 64, 64}}, 0.1), warm());
  EXPECT_NE(meter.without_noise(red).Y / red.Y, 1 + e.luminance_relative);
  EXPECT_NEAR(meter.without_noise(red).Y / red.Y, 1 + e.luminance_relative, 0.03);
}

TEST_F(Meter, MeanOfManyReadingsIsWhatItReadsWithoutNoise) {
  SimulatedMeter meter({}, display, clock, 8);
  ASSERT_TRUE(display.show(grey(50, 0.02)));
  clock.wait({5});
  const auto expected = meter.without_noise(display.light(clock.now()));
  colour::AbsoluteXyz<> sum;
  constexpr int n = 1000;
  for (int i = 0; i < n; ++i) {
    const auto m = meter.measure(i);
    sum.X += m->xyz.X / n;
    sum.Y += m->xyz.Y / n;
    sum.Z += m->xyz.Z / n;
  }
  const double tolerance = 4 * 0.0012 / std::sqrt(n);
  EXPECT_NEAR(sum.X / expected.X, 1, tolerance);
  EXPECT_NEAR(sum.Y / expected.Y, 1, tolerance);
  EXPECT_NEAR(sum.Z / expected.Z, 1, tolerance);
}

TEST_F(Meter, IntegrationFollowsTheModelInWholeFramesAndTheClockMoves) {
  SimulatedMeter meter({}, display, clock, 1);
  const auto& integration = meter.capabilities().integration;
  for (const auto& [cdm2, level] : {std::pair{400.0, white(0.25)}, {0.5, grey(0.5)}, {0.0, black()}}) {
    ASSERT_TRUE(display.show(level));
    clock.wait({3});
    const Timestamp before = clock.now();
    const double y = display.light(before).Y;
    const auto m = meter.measure(0);
    const double wanted = (integration.expected({.cdm2 = y}) - integration.overhead).s;
    EXPECT_GE(m->integration.s, wanted - 1e-9);
    EXPECT_LT(m->integration.s, wanted + 1.0 / 60);
    EXPECT_NEAR(m->integration.s * 60, std::round(m->integration.s * 60), 1e-9);
    EXPECT_NEAR((clock.now() - before).s, (m->integration + integration.overhead).s, 0.0021);
    EXPECT_EQ(clock.now(), meter.end_of(before, m->integration));
  }
}

TEST_F(Meter, SaysWhenAReadingIsOutsideItsRange) {
  MeterModel model = exact_meter();
  model.capabilities.maximum_cdm2 = 500;
  model.capabilities.minimum_cdm2 = 0.01;
  SimulatedMeter meter(model, display, clock, 1);
  const auto read = [&](const signal::Signal& s) {
    EXPECT_TRUE(display.show(s));
    clock.wait({5});
    return *meter.measure(0);
  };
  const auto bright = read(white(0.02));
  EXPECT_TRUE(bright.saturated);
  EXPECT_LE(bright.xyz.Y, 500);
  const auto dark = read(black());
  EXPECT_TRUE(dark.below_range);
  EXPECT_FALSE(dark.saturated);
  const auto fine = read(grey(100, 0.02));
  EXPECT_FALSE(fine.saturated || fine.below_range);
}

TEST_F(Meter, DarkReadingsMayBeNegative) {
  MeterModel model = exact_meter();
  model.capabilities.noise_floor_cdm2 = 0.002;
  SimulatedMeter meter(model, display, clock, 1);
  ASSERT_TRUE(display.show(black()));
  clock.wait({5});
  int negative = 0;
  for (int i = 0; i < 100; ++i) negative += meter.measure(i)->xyz.Y < 0;
  EXPECT_GT(negative, 20);
}

TEST_F(Meter, ASpectralReadingAgreesWithItsTristimulusValuesAndErrors) {
  MeterModel model;
  model.capabilities.spectral = true;
  model.capabilities.repeatability_relative = 0;
  model.capabilities.noise_floor_cdm2 = 0;
  model.capabilities.shot_noise = 0;
  SimulatedMeter meter(model, display, clock, 17);
  ASSERT_TRUE(display.show(white()));
  clock.wait({5});
  const auto light = display.light(clock.now());
  const auto m = meter.measure(0);
  ASSERT_TRUE(m->spectrum);
  EXPECT_EQ(m->spectrum->radiance.size(), 401U);
  // This is its reference white: the certificate's errors show exactly.
  EXPECT_NEAR(m->xyz.Y / light.Y, 1 + meter.errors().luminance_relative, 1e-9);
  EXPECT_NEAR(xy_of(m->xyz).x - xy_of(light).x, meter.errors().x, 1e-9);
  EXPECT_NEAR(xy_of(m->xyz).y - xy_of(light).y, meter.errors().y, 1e-9);
}

TEST_F(Meter, BandwidthWidensPeaksAndKeepsTheirEnergy) {
  MeterModel model = exact_meter();
  model.capabilities.spectral = true;
  model.capabilities.repeatability_relative = model.capabilities.noise_floor_cdm2 = model.capabilities.shot_noise = 0;
  SimulatedDisplay lines(physics_of("fluoride-check"), clock, {});
  ASSERT_TRUE(lines.show(white()));
  clock.wait({5});
  const auto read = [&](double bandwidth) {
    model.bandwidth_nm = bandwidth;
    SimulatedMeter meter(model, lines, clock, 1);
    return *meter.measure(0)->spectrum;
  };
  const auto sharp = read(0), wide = read(5);
  double energy_sharp = 0, energy_wide = 0;
  for (const double v : sharp.radiance) energy_sharp += v;
  for (const double v : wide.radiance) energy_wide += v;
  EXPECT_NEAR(energy_wide / energy_sharp, 1, 1e-3);
  EXPECT_LT(wide.radiance[631 - 380], 0.75 * sharp.radiance[631 - 380]);
}

TEST_F(Meter, NoiseOfASpectralReadingFollowsTheSameModel) {
  MeterModel model = exact_meter();
  model.capabilities.spectral = true;
  model.capabilities.repeatability_relative = 0.002;
  model.capabilities.noise_floor_cdm2 = 0.001;
  model.capabilities.shot_noise = 0.01;
  SimulatedMeter meter(model, display, clock, 4);
  ASSERT_TRUE(display.show(grey(0.5, 0.02)));
  clock.wait({5});
  const double y = display.light(clock.now()).Y;
  constexpr int readings = 400;
  double chi_square = 0;
  for (int i = 0; i < readings; ++i) {
    const auto m = meter.measure(i);
    const double variance = std::pow(0.002 * y, 2) + std::pow(0.01, 2) * y / m->integration.s + std::pow(0.001, 2);
    chi_square += std::pow(m->xyz.Y - y, 2) / variance;
  }
  EXPECT_NEAR(chi_square, readings, 4 * std::sqrt(2.0 * readings));
}

}  // namespace
}  // namespace provenit::simulated::testing
