// A light sensor and its recorder before the simulated display: the files a person would bring.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "loan_internal.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/trace.h"
#include "simulated_camera.h"
#include "simulated_frames.h"

namespace provenit::loan {
namespace {

using simulated::DisplayPhysics;
using simulated::SensorModel;

struct Column {
  const char* heading;
  std::vector<double> values;
};

std::string csv_of(double rate_hz, const std::vector<Column>& columns) {
  std::string text = fmt::format("# simulated light sensor, {:.6g} samples per second\ntime (s)", rate_hz);
  for (const auto& c : columns) text += fmt::format(",{}", c.heading);
  text += '\n';
  for (std::size_t i = 0; i < columns.front().values.size(); ++i) {
    text += fmt::format("{:.6f}", static_cast<double>(i) / rate_hz);
    for (const auto& c : columns) text += fmt::format(",{:.6g}", c.values[i]);
    text += '\n';
  }
  return text;
}

/// A recorder whose clock is off by a ten-thousandth or so, as its data sheet says.
SensorModel sensor_of(double rate_hz, double noise, std::uint64_t seed) {
  return {
      .rate_hz = rate_hz, .rate_error = 5e-5, .bandwidth_hz = rate_hz / 10, .noise = noise, .dark = 0.02, .seed = seed};
}

nlohmann::json conditions_of(const SensorModel& sensor) {
  return {
      {"rate_relative", 1e-4}, {"bandwidth_hz", sensor.bandwidth_hz}, {"dark", sensor.dark}, {"origin", "simulated"}};
}

/// The box along the top row or down the left column. The sensor sees the whole screen; the box's own path is masked.
RecordedFile walk(const DisplayPhysics& physics, const procedure::RecordStep& step, std::uint64_t seed) {
  const bool down = step.parameters["down"].get<double>() != 0;
  const simulated::BoxWalk walk{.width = 3840,
                                .height = 2160,
                                .step = step.parameters["step_pixels"].get<int>(),
                                .along = step.parameters["along_pixels"].get<int>(),
                                .down = down};
  const simulated::SensorView view{.box_masked = true};
  // One zone's light at the sensor is the unit; a sensor placed with care hears a fiftieth of it as noise.
  const double one = view.leakage / (physics.zones->columns * physics.zones->rows);
  SensorModel sensor = sensor_of(1000, one / 50, seed);
  sensor.gain = 1 / one;
  const auto light = simulated::walk_light(physics, walk, view);
  RecordedFile file{.step = step.key, .name = fmt::format("walk-{}.csv", step.key)};
  file.bytes = csv_of(sensor.rate_hz, {{"light", simulated::sense(light, walk.seconds(), sensor)}});
  file.conditions = conditions_of(sensor);
  file.conditions["frame_s"] = walk.frame_s;
  return file;
}

/// Light of a window that is switched on and off: `on(t)` in seconds from the start, of rising times.
class Switched {
 public:
  Switched(const DisplayPhysics& physics, const signal::Encoding& encoding, std::function<bool(double)> on)
      : clock_(Timestamp{4 * 3600.0}), display_(physics, clock_, {}), on_(std::move(on)) {
    const auto black = signal::black_code(encoding);
    dark_ = {.encoding = encoding, .patch = black, .surround = black};
    dark_.geometry = {.shape = signal::Shape::window, .area_fraction = 0.1};
    lit_ = dark_;
    lit_.patch = signal::grey_code(encoding, colour::Signal<>{.value = 0.5});
    (void)display_.show(dark_);
    clock_.wait(Seconds{30});
    begun_ = clock_.now();
    scale_ = display_.truth(lit_, clock_.now()).Y;
  }
  /// Light at t, 1 = the window fully lit.
  double operator()(double t) {
    const Timestamp at = begun_ + Seconds{t};
    if (on_(t) != shown_) {
      shown_ = !shown_;
      clock_.set(at);
      (void)display_.show(shown_ ? lit_ : dark_);
    }
    return display_.light(at).Y / scale_;
  }

 private:
  simulated::SimulatedClock clock_;
  simulated::SimulatedDisplay display_;
  std::function<bool(double)> on_;
  signal::Signal dark_, lit_;
  Timestamp begun_;
  double scale_ = 1;
  bool shown_ = false;
};

RecordedFile light_steps(const DisplayPhysics& physics, const signal::Encoding& encoding, std::uint64_t seed) {
  Switched window(physics, encoding, [](double t) { return t >= 1 && std::fmod(t - 1, 3) < 1.5; });
  const SensorModel sensor = sensor_of(10000, 0.002, seed);
  RecordedFile file{.step = "blink", .name = "light-steps.csv", .conditions = conditions_of(sensor)};
  file.bytes = csv_of(sensor.rate_hz, {{"light", simulated::sense([&](double t) { return window(t); }, 20, sensor)}});
  return file;
}

RecordedFile flicker(const DisplayPhysics& physics, std::uint64_t seed) {
  SensorModel sensor = sensor_of(20000, 0.002, seed);
  const auto light = [&](double t) {
    return 1 + physics.modulation * std::sin(2 * std::numbers::pi * physics.refresh_hz * t);
  };
  RecordedFile file{.step = "steady", .name = "flicker.csv", .conditions = conditions_of(sensor)};
  file.bytes = csv_of(sensor.rate_hz, {{"light", simulated::sense(light, 4, sensor)}});
  return file;
}

/// 30 steps; the marker rises with the signal, the light after the display's processing.
RecordedFile delay(const DisplayPhysics& physics, const signal::Encoding& encoding, std::uint64_t seed) {
  const auto marked = [](double t) { return t >= 0.5 && std::fmod(t - 0.5, 1.0) < 0.5; };
  Switched window(physics, encoding, [&](double t) { return marked(t - physics.input_delay_s); });
  SensorModel sensor = sensor_of(2000, 0.002, seed);
  SensorModel marker = sensor;
  marker.bandwidth_hz = 0;
  ++marker.seed;
  RecordedFile file{.step = "blink", .name = "delay.csv", .conditions = conditions_of(sensor)};
  file.bytes = csv_of(sensor.rate_hz,
                      {{"marker", simulated::sense([&](double t) { return marked(t) ? 1.0 : 0.0; }, 30.5, marker)},
                       {"light", simulated::sense([&](double t) { return window(t); }, 30.5, sensor)}});
  return file;
}

}  // namespace

std::optional<std::vector<RecordedFile>> simulated_recording(const DisplayPhysics& physics,
                                                             const signal::Encoding& encoding,
                                                             const procedure::Recording& recording,
                                                             std::uint64_t seed) {
  std::vector<RecordedFile> files;
  if (recording.id == "zone_walk" && physics.zones) {
    // A sensor across, a camera down: both ways are used.
    files.push_back(walk(physics, recording.steps[0], seed));
    auto film = filmed_walk(physics, recording.steps[1], seed + 1);
    files.push_back(film ? std::move(*film) : walk(physics, recording.steps[1], seed + 1));
  } else if (recording.id == "field_picture") {
    return pictured_field(physics, encoding, seed);
  } else if (recording.id == "light_steps") {
    files.push_back(light_steps(physics, encoding, seed));
  } else if (recording.id == "flicker") {
    files.push_back(flicker(physics, seed));
  } else if (recording.id == "input_delay") {
    files.push_back(delay(physics, encoding, seed));
  } else {
    return simulated_frame(physics, encoding, recording);
  }
  return files;
}

}  // namespace provenit::loan
