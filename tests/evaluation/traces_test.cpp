// Figures from traces: known shapes by hand, and seeded trials against the simulated sensor's truth.
#include "provenit/evaluation/traces.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "simulated_traces.h"

namespace provenit::evaluation {
namespace {

using testing::HasSubstr;

constexpr int kTrials = 40;
/// Of 40 intervals that hold the truth with 95 %, fewer than 34 do so once in 400 cases (benchmarks/coverage_traces.cpp
/// has the full count).
constexpr int kFewest = 34;

TEST(ZoneWalk, CountsWhatTheDisplayHas) {
  int seen = 0, held = 0, right = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const auto walk = bench::simulated_walk(static_cast<std::uint64_t>(trial) + 5001);
    const auto count = count_zones(walk.samples(), walk.path, walk.start_s);
    ASSERT_TRUE(count) << count.error().text();
    if (!count->steps_seen) continue;
    ++seen;
    right += count->zones == walk.zones;
    held += count->count.interval.contains(walk.zones);
  }
  EXPECT_GE(seen, 15);  // the others lie in the noise, and are not claimed
  EXPECT_GE(held, seen * 93 / 100);
  EXPECT_GE(right, seen * 90 / 100);
}

/// Common practice, no source: a walk that shows 26 column and 14 row steps is 364 zones.
TEST(ZoneWalk, TwentySixColumnsAndFourteenRowsAre364) {
  const auto walked = [](int zones, int length) {
    const WalkPath path{.frames = (length - 4) / 2 + 1, .step = 2, .along = 4, .length = 1. * length, .frame_s = 0.04};
    std::vector<double> light;
    for (int k = 0; k < path.frames; ++k) {
      // A sensor beside the path: each zone gives it a light of its own.
      const int zone = std::min(zones - 1, static_cast<int>(std::floor((2 * k + 2.0) * zones / length)));
      light.push_back(std::exp(-0.1 * std::abs(zone - zones / 3)) + 1e-4 * std::sin(k * 1.7));
    }
    return count_zones(light, path).value();
  };
  const auto across = walked(26, 1920), down = walked(14, 1080);
  EXPECT_EQ(across.zones, 26);
  EXPECT_EQ(down.zones, 14);
  EXPECT_NEAR(across.pitch.value, 1920 / 26., 1e-9);
  const auto product = zone_product(across, down);
  EXPECT_EQ(product.value, 364);
  EXPECT_TRUE(product.interval.contains(364));
}

/// Light at one place while a box of 4 pixels walks along 1,920 in steps of 2: five zones of 42 are seen, each brighter
/// from the frame on in which the box enters it, by its distance from the sensor; a change of 1 in 50 is noise.
std::vector<double> light_at_a_place(const std::vector<double>& entries_px) {
  std::vector<double> light(959);
  for (std::size_t k = 0; k < light.size(); ++k) {
    light[k] = 0.01 * std::sin(1.7 * static_cast<double>(k * k % 101));
    for (std::size_t zone = 0; zone + 1 < entries_px.size(); ++zone)
      if (const double lead = 2.0 * static_cast<double>(k) + 4;
          lead > entries_px[zone] && lead - 4 < entries_px[zone + 1])
        light[k] += zone == 2 ? 1 : zone == 1 || zone == 3 ? 0.6 : 0.25;
  }
  return light;
}
constexpr evaluation::WalkPath kAcross{.frames = 959, .step = 2, .along = 4, .length = 1920, .frame_s = 1 / 24.};

TEST(ZoneWalk, AFewStepsAtOnePlaceAreEnough) {
  std::vector<double> entries;
  for (int zone = 20; zone <= 25; ++zone) entries.push_back(1920.0 / 42 * zone);
  const auto count = evaluation::count_zones(light_at_a_place(entries), kAcross);
  ASSERT_TRUE(count && count->steps_seen);
  EXPECT_EQ(count->zones, 42);
  EXPECT_LE(count->count.interval.upper - count->count.interval.lower, 3);
}

TEST(ZoneWalk, StepsThatNoGridHasAreNoZones) {
  const auto count = evaluation::count_zones(light_at_a_place({400, 431, 520, 538, 699, 777}), kAcross);
  ASSERT_TRUE(count);
  EXPECT_FALSE(count->steps_seen);
}

TEST(ZoneWalk, ADisplayWithoutZonesIsNotGivenAny) {
  const WalkPath path{.frames = 900, .step = 2, .along = 4, .length = 1804, .frame_s = 0.04};
  int claimed = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    bench::Draw draw(seed);
    std::vector<double> light;
    for (int k = 0; k < 900; ++k) light.push_back(1 + 0.1 * std::sin(k * 0.003) + 0.01 * draw.normal());
    claimed += count_zones(light, path)->steps_seen;
  }
  EXPECT_EQ(claimed, 0);
}

TEST(ZoneWalk, WhatCannotBeCountedIsRefused) {
  const std::vector<double> dark(4000, 0.1);
  const WalkPath path{.frames = 90, .step = 2, .along = 4, .length = 182, .frame_s = 0.04};
  EXPECT_THAT(count_zones({.values = dark, .rate_hz = 1000}, path).error().text(), HasSubstr("begins"));
  EXPECT_THAT(count_zones({.values = dark, .rate_hz = 1000}, path, 2.0).error().text(), HasSubstr("ends at frame 50"));
  EXPECT_THAT(count_zones({.values = dark, .rate_hz = 50}, path).error().text(), HasSubstr("samples per frame"));
  EXPECT_THAT(count_zones(dark, path).error().text(), HasSubstr("4000 frames where the walk has 90"));
  auto none = path;
  none.frame_s = 0;
  EXPECT_EQ(count_zones(dark, none).error().code, ErrorCode::out_of_range);
}

TEST(LightSteps, HoldTheTruth) {
  int rise = 0, fall = 0, left = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const auto trace = bench::simulated_light_steps(static_cast<std::uint64_t>(trial) + 5001);
    const double after[] = {0.1};
    const auto found = measure_light_steps(trace.samples(), after);
    ASSERT_TRUE(found) << found.error().text();
    ASSERT_EQ(found->afterglow.size(), 1u);
    rise += found->rise_ms->interval.contains(trace.rise_ms);
    fall += found->fall_ms->interval.contains(trace.fall_ms);
    left += found->afterglow[0].percent.interval.contains(trace.left_percent);
  }
  EXPECT_GE(rise, kFewest);
  EXPECT_GE(fall, kFewest);
  EXPECT_GE(left, kFewest);
}

TEST(LightSteps, AnExponentialHasTheTimesOfItsFormula) {
  // 10-90 % of 1 - exp(-t / tau) is tau ln 9; 0.1 s after 90 %, exp(-0.1 / tau) of 90 % is left.
  const double tau = 0.05;
  std::vector<double> light;
  for (int i = 0; i < 60000; ++i) {
    const double t = i / 5000.0, within = std::fmod(t, 2.0);
    light.push_back(within < 1 ? 1 - std::exp(-within / tau) : std::exp(-(within - 1) / tau));
  }
  const double after[] = {0.1, 5};
  const auto found = measure_light_steps({.values = light, .rate_hz = 5000}, after).value();
  EXPECT_NEAR(found.rise_ms->value, 1000 * tau * std::log(9), 0.1);
  EXPECT_NEAR(found.fall_ms->value, 1000 * tau * std::log(9), 0.1);
  ASSERT_EQ(found.afterglow.size(), 1u);  // 5 s is longer than the light stays off
  EXPECT_NEAR(found.afterglow[0].percent.value, 90 * std::exp(-0.1 / tau), 0.02);
  EXPECT_FALSE(found.rise_at_limit);
  // The same with a sensor that is said to be slow.
  const auto slow = measure_light_steps({.values = light, .rate_hz = 5000, .bandwidth_hz = 5}, after).value();
  EXPECT_TRUE(slow.rise_at_limit);
}

TEST(LightSteps, NoiseAloneHasNoSteps) {
  bench::Draw draw(7);
  std::vector<double> noise;
  for (int i = 0; i < 20000; ++i) noise.push_back(draw.normal());
  EXPECT_THAT(measure_light_steps({.values = noise, .rate_hz = 1000}, {}).error().text(), HasSubstr("stand out"));
}

void hold_flicker(bool pulses) {
  int frequency = 0, percent = 0, index = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const auto trace = bench::simulated_flicker(static_cast<std::uint64_t>(trial) + 5001, pulses);
    const auto found = measure_flicker(trace.samples(), trace.dark, 1);
    ASSERT_TRUE(found) << found.error().text();
    frequency += found->frequency_hz.interval.contains(trace.frequency_hz);
    percent += found->percent.interval.contains(trace.percent);
    index += found->index.interval.contains(trace.index);
  }
  EXPECT_GE(frequency, kFewest);
  EXPECT_GE(percent, kFewest);
  EXPECT_GE(index, kFewest);
}
TEST(Flicker, OfAWaveHoldsTheTruth) {
  hold_flicker(false);
}
TEST(Flicker, OfPulsesHoldsTheTruth) {
  hold_flicker(true);
}

TEST(Flicker, ASineHasTheFiguresOfItsFormula) {
  // 1 + m sin: percent flicker 100 m, index m / pi, spectrum line m.
  std::vector<double> light;
  for (int i = 0; i < 40000; ++i) light.push_back(0.5 + 2 + 0.6 * std::sin(2 * std::numbers::pi * 119.88 * i / 10000));
  const auto found = measure_flicker({.values = light, .rate_hz = 10000}, 0.5, 1).value();
  EXPECT_NEAR(found.frequency_hz.value, 119.88, 1e-3);
  EXPECT_NEAR(found.percent.value, 30, 0.02);
  EXPECT_NEAR(found.index.value, 0.3 / std::numbers::pi, 1e-4);
  EXPECT_NEAR(found.peak_percent, 30, 0.05);
  EXPECT_NEAR(found.peak_hz, 119.88, 0.02);
  // With the dark level left in, the depth is smaller.
  EXPECT_NEAR(measure_flicker({.values = light, .rate_hz = 10000}, 0, 1)->percent.value, 24, 0.02);
}

TEST(Flicker, SteadyLightHasAnUpperBoundOnly) {
  bench::Draw draw(3);
  std::vector<double> light;
  for (int i = 0; i < 20000; ++i) light.push_back(1 + 0.01 * draw.normal());
  const auto found = measure_flicker({.values = light, .rate_hz = 10000}, 0, 1).value();
  EXPECT_TRUE(found.below_noise);
  EXPECT_LT(found.percent.interval.upper, 0.2);
  EXPECT_FALSE(measure_flicker({.values = light, .rate_hz = 10000}, 2, 1));
}

TEST(Delay, HoldsTheTruth) {
  int mean = 0, jitter = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const auto trace = bench::simulated_delay(static_cast<std::uint64_t>(trial) + 5001);
    const auto found = measure_delay(trace.markers(), trace.samples());
    ASSERT_TRUE(found) << found.error().text();
    mean += found->mean_ms.interval.contains(trace.delay_ms);
    jitter += found->jitter_ms.interval.contains(trace.jitter_ms);
  }
  EXPECT_GE(mean, kFewest);
  EXPECT_GE(jitter, kFewest);
}

TEST(Delay, LiesBetweenSamples) {
  std::vector<double> marker, light;
  const auto ramp = [](double t) { return std::clamp(t / 0.004, 0.0, 1.0); };  // half way after 2 ms
  for (int i = 0; i < 12000; ++i) {
    const double t = i / 1000.0, within = std::fmod(t, 1.0);
    const auto on = [&](double late) { return ramp(within - 0.1 - late) - ramp(within - 0.6 - late); };
    marker.push_back(on(0));
    light.push_back(3 * on(0.03337));
  }
  const auto found = measure_delay({.values = marker, .rate_hz = 1000}, {.values = light, .rate_hz = 1000}).value();
  EXPECT_NEAR(found.mean_ms.value, 33.37, 0.01);
  EXPECT_LT(found.jitter_ms.value, 0.01);
  const std::vector<double> none(12000, 1.0);
  EXPECT_FALSE(measure_delay({.values = marker, .rate_hz = 1000}, {.values = none, .rate_hz = 1000}));
}

}  // namespace
}  // namespace provenit::evaluation
