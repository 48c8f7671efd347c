#pragma once
// Simulated traces with what is true of them: display, sensor, recorder and noise differ from seed to seed. Used by the
// coverage benchmark and, in small numbers, by the tests.
#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <optional>
#include <random>
#include <vector>

#include "provenit/evaluation/traces.h"
#include "provenit/simulated/trace.h"
#include "walk_path.h"

namespace provenit::bench {

struct SimulatedWalk {
  std::vector<double> values;
  evaluation::WalkPath path;
  int zones = 0;  ///< the truth
  double rate_hz = 0, rate_relative = 0;
  std::optional<double> start_s;  ///< as somebody watching would say it
  [[nodiscard]] evaluation::Samples samples() const {
    return {.values = values, .rate_hz = rate_hz, .rate_relative = rate_relative};
  }
};

/// 12 to 60 zones along; sharp and smooth dimming; a sensor that sees the whole screen, or one at a fixed place with
/// the box masked; noise from a hundredth to a sixth of a zone's light.
inline SimulatedWalk simulated_walk(std::uint64_t seed) {
  std::mt19937_64 random(seed * 7919 + 3);
  const auto between = [&](double a, double b) {
    return a + (b - a) * (static_cast<double>(random() >> 11) * 0x1p-53);
  };
  auto physics = *simulated::built_in_physics("tern-32");
  auto& zones = *physics.zones;
  SimulatedWalk out;
  out.zones = static_cast<int>(between(12, 61));
  const bool down = between(0, 1) < 0.4;
  (down ? zones.rows : zones.columns) = out.zones;
  (down ? zones.columns : zones.rows) = std::max(4, static_cast<int>(out.zones * between(0.5, 0.6)));
  zones.maximum_share = between(0.4, 1);
  zones.neighbour_share = between(0, 1) < 0.5 ? 0 : between(0.1, 0.6);
  zones.rise_s = between(0.01, 0.08);
  zones.fall_s = between(0.02, 0.15);
  zones.spread_zones = between(0.5, 1);
  const simulated::BoxWalk walk{.step = down ? 1 : 2, .along = 4, .across = 16, .down = down};
  simulated::SensorView view{.box_masked = true};
  const bool at_place = between(0, 1) < 0.5;
  if (at_place) {
    const double along = between(0.3, 0.7), beside = 1.5 / (down ? zones.columns : zones.rows);
    view.place = down ? std::array{beside, along} : std::array{along, beside};
  }
  // Light of one zone at the sensor sets the scale of the noise.
  const double one = at_place ? view.leakage * 0.1 : view.leakage / (zones.columns * zones.rows);
  simulated::SensorModel sensor{.rate_hz = 1000, .bandwidth_hz = 500, .noise = one * std::exp(between(-4.6, -1.8))};
  out.rate_relative = 5e-4;
  sensor.rate_error = out.rate_relative * std::normal_distribution<double>()(random);
  sensor.gain = between(1, 5) / one;
  sensor.dark = between(0, 1);
  sensor.seed = seed;
  out.values = simulated::sense(simulated::walk_light(physics, walk, view), walk.seconds(), sensor);
  out.rate_hz = sensor.rate_hz;
  if (at_place) out.start_s = walk.black_before_s + between(-0.3, 0.3);
  out.path = path_of(walk);
  return out;
}

/// A recording and what is true of it. `light` is the channel; `marker` only where there is one.
struct SimulatedTrace {
  std::vector<double> values, marker;
  double rate_hz = 0, rate_relative = 0, bandwidth_hz = 0;
  double dark = 0;
  double rise_ms = 0, fall_ms = 0, left_percent = 0;  ///< of light steps; left after 0.1 s
  double frequency_hz = 0, percent = 0, index = 0;    ///< of flicker
  double delay_ms = 0, jitter_ms = 0;                 ///< of the population that the delays are drawn from
  [[nodiscard]] evaluation::Samples samples() const {
    return {.values = values, .rate_hz = rate_hz, .rate_relative = rate_relative, .bandwidth_hz = bandwidth_hz};
  }
  [[nodiscard]] evaluation::Samples markers() const {
    return {.values = marker, .rate_hz = rate_hz, .rate_relative = rate_relative};
  }
};

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : random_(seed) {}
  double between(double a, double b) { return a + (b - a) * (static_cast<double>(random_() >> 11) * 0x1p-53); }
  double normal() { return normal_(random_); }

 private:
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
};

inline simulated::SensorModel sensor_of(Draw& draw, SimulatedTrace& trace, std::uint64_t seed) {
  trace.rate_relative = 2e-3;
  simulated::SensorModel sensor{.rate_hz = trace.rate_hz, .rate_error = trace.rate_relative * draw.normal()};
  sensor.bandwidth_hz = trace.bandwidth_hz;
  sensor.gain = draw.between(0.5, 3);
  sensor.dark = trace.dark = draw.between(0.01, 0.1);
  sensor.seed = seed;
  return sensor;
}

/// Time at which a falling or rising function passes a level, by bisection.
inline double passes(const std::function<double(double)>& f, double level, double from, double to) {
  const bool rising = f(to) > f(from);
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (from + to);
    ((f(middle) > level) == rising ? to : from) = middle;
  }
  return 0.5 * (from + to);
}

/// Zones that rise and fall exponentially behind a panel whose pixels take a few milliseconds: light = backlight x
/// opening. On and off six times, a second and a half each.
inline SimulatedTrace simulated_light_steps(std::uint64_t seed) {
  Draw draw(seed * 104729 + 11);
  SimulatedTrace out;
  out.rate_hz = 2000;
  out.bandwidth_hz = 400;
  const double rise = draw.between(0.01, 0.06), fall = draw.between(0.03, 0.15);
  const double pixel = draw.between(0.002, 0.004), rest = draw.between(0, 0.03);
  const auto on = [=](double t) {
    const auto at = [&](double tau) { return 1 - std::exp(-t / tau); };
    return t < 0 ? rest : rest + (1 - rest) * at(rise) * at(pixel);
  };
  const auto off = [=](double t) {
    return t < 0 ? 1 : rest + (1 - rest) * (0.7 * std::exp(-t / fall) + 0.3 * std::exp(-t / (0.3 * fall)));
  };
  const auto step = [rest](double share) { return rest + share * (1 - rest); };
  out.rise_ms = 1000 * (passes(on, step(0.9), 0, 1.5) - passes(on, step(0.1), 0, 1.5));
  const double at_90 = passes(off, step(0.9), 0, 1.5);
  out.fall_ms = 1000 * (passes(off, step(0.1), 0, 1.5) - at_90);
  out.left_percent = 100 * (off(at_90 + 0.1) - rest) / (1 - rest);
  const double phase = draw.between(0.3, 0.9);
  auto sensor = sensor_of(draw, out, seed);
  sensor.noise = draw.between(0.001, 0.01);
  out.values = simulated::sense(
      [=](double t) {
        const double at = t - phase;
        const double within = at - 3 * std::floor(at / 3);
        return within < 1.5 ? (at < 0 ? rest : on(within)) : (at < 0 ? rest : off(within - 1.5));
      },
      18.5, sensor);
  return out;
}

/// A wave of the light (sine with a second harmonic), or pulses of part of the period.
inline SimulatedTrace simulated_flicker(std::uint64_t seed, bool pulses) {
  Draw draw(seed * 1299709 + 5);
  SimulatedTrace out;
  out.rate_hz = 20000;
  out.bandwidth_hz = pulses ? 0 : 2000;
  out.frequency_hz = draw.between(50, 250);
  const double depth = std::exp(draw.between(-5, -0.7)), second = draw.between(0, 0.3), turn = draw.between(0, 1);
  const double duty = draw.between(0.2, 0.8), low = draw.between(0.05, 0.7);
  const auto shape = [=](double phase) {
    const double x = 2 * 3.14159265358979323846 * phase;
    if (!pulses) return 1 + depth * (std::sin(x) + second * std::sin(2 * x + 6.28 * turn)) / (1 + second);
    return phase - std::floor(phase) < duty ? 1.0 : low;
  };
  double most = 0, least = 1e9, mean = 0, above = 0;
  constexpr int kFine = 20000;
  for (int i = 0; i < kFine; ++i) {
    const double v = shape((i + 0.5) / kFine);
    most = std::max(most, v), least = std::min(least, v), mean += v / kFine;
  }
  for (int i = 0; i < kFine; ++i) above += std::max(0.0, shape((i + 0.5) / kFine) - mean) / kFine;
  out.percent = 100 * (most - least) / (most + least);
  out.index = above / mean;
  auto sensor = sensor_of(draw, out, seed);
  sensor.noise = draw.between(0.002, 0.02);
  const double hz = out.frequency_hz;
  out.values = simulated::sense([=](double t) { return shape(hz * t + turn); }, 2, sensor);
  out.dark = sensor.dark;
  return out;
}

/// Steps of a marker and of the light behind it; each delay is drawn anew around the mean.
inline SimulatedTrace simulated_delay(std::uint64_t seed) {
  Draw draw(seed * 15485863 + 1);
  SimulatedTrace out;
  out.rate_hz = 5000;
  out.bandwidth_hz = 1000;
  out.delay_ms = draw.between(8, 90);
  out.jitter_ms = draw.between(0.3, 4);
  const double rise = draw.between(0.0005, 0.006);
  std::vector<double> delays;
  for (int i = 0; i < 25; ++i) delays.push_back((out.delay_ms + out.jitter_ms * draw.normal()) / 1000);
  const double half = rise * std::log(2.0);  // of an exponential rise: where it is half way
  const auto lit = [=](double t, double late) {
    const double at = t - 0.2, k = std::floor(at / 0.5);
    if (k < 0 || k >= 25) return 0.0;
    const double since = at - 0.5 * k - late;
    return since < 0 ? 0.0 : since < 0.25 ? 1.0 : 2.0;
  };
  auto sensor = sensor_of(draw, out, seed);
  sensor.noise = draw.between(0.002, 0.02);
  out.values = simulated::sense(
      [=](double t) {
        const double at = t - 0.2, k = std::floor(at / 0.5);
        if (k < 0 || k >= 25) return 0.0;
        const double since = at - 0.5 * k - (delays[static_cast<std::size_t>(k)] - half);
        if (since < 0) return 0.0;
        return since < 0.25 ? 1 - std::exp(-since / rise) : std::exp(-(since - 0.25) / rise);
      },
      12.9, sensor);
  sensor.bandwidth_hz = 0;
  sensor.seed = seed + 77;
  out.marker = simulated::sense([=](double t) { return lit(t, 0) == 1.0 ? 1.0 : 0.0; }, 12.9, sensor);
  return out;
}

}  // namespace provenit::bench
