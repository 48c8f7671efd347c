// What a reading of the simulated meter costs, and where the fluoride backlight lands.
#include <chrono>
#include <cstdlib>
#include <string_view>

#include "figure.h"
#include "provenit/colour/gamut.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace {

using namespace provenit;

simulated::DisplayPhysics physics_of(std::string_view id) {
  auto physics = simulated::built_in_physics(id);
  if (physics) return *physics;
  fmt::print(stderr, "{}\n", physics.error().text());
  std::exit(3);
}

signal::Signal window(signal::CodeRgb patch, double area) {
  signal::Signal s{.patch = patch, .surround = signal::black_code({})};
  s.geometry = {.shape = signal::Shape::window, .area_fraction = area};
  return s;
}

/// Mean milliseconds of show, settle and read, each time another grey.
bench::Figure reading_time(const char* name, bool spectral) {
  simulated::SimulatedClock clock({1.8e9});
  simulated::SimulatedDisplay display(physics_of("tern-32"), clock, {});
  simulated::MeterModel model;
  model.capabilities.spectral = spectral;
  simulated::SimulatedMeter meter(model, display, clock, 1);
  constexpr int readings = 2000;
  bool all_read = true;
  const auto start = std::chrono::steady_clock::now();
  for (int i = 0; i < readings; ++i) {
    const int code = 64 + (i * 37) % 877;
    all_read = all_read && display.show(window({.code = {code, code, code}}, 0.1));
    clock.wait({2});
    all_read = all_read && meter.measure(i);
  }
  const double ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  return {name, ms / readings, "ms", "<= 1", all_read && ms / readings <= 1};
}

std::vector<bench::Figure> fluoride_coverage() {
  simulated::SimulatedClock clock({1.8e9});
  const simulated::SimulatedDisplay display(physics_of("fluoride-check"), clock, {});
  const auto primary = [&display](signal::CodeRgb code) {
    auto signal = window(code, 0.1);
    signal.encoding.container = signal::Container::p3_d65;  // its own: one channel is driven alone
    const auto c = display.truth(signal, simulated::SimulatedDisplay::settled_thermal());
    const double sum = c.X + c.Y + c.Z;
    return colour::Xy<>{.x = c.X / sum, .y = c.Y / sum};
  };
  const colour::Primaries<> own{.red = primary({.code = {500, 64, 64}}),
                                .green = primary({.code = {64, 500, 64}}),
                                .blue = primary({.code = {64, 64, 500}}),
                                .white = colour::d65_video};
  const auto plane = colour::ChromaticityPlane::uv_prime;
  const double p3 = 100 * colour::gamut_coverage(plane, own, colour::p3_d65_primaries);
  const double bt2020 = 100 * colour::gamut_coverage(plane, own, colour::bt2020_primaries);
  return {{"fluoride_p3_coverage_uv", p3, "%", "95 to 99", p3 >= 95 && p3 <= 99},
          {"fluoride_bt2020_coverage_uv", bt2020, "%", "75 to 79", bt2020 >= 75 && bt2020 <= 79}};
}

}  // namespace

int main(int argc, char** argv) {
  using bench::Figure;
  return bench::run(
      argc, argv,
      {{{"simulated_reading_time"}, [] { return std::vector<Figure>{reading_time("simulated_reading_time", false)}; }},
       {{"simulated_spectral_reading_time"},
        [] { return std::vector<Figure>{reading_time("simulated_spectral_reading_time", true)}; }},
       {{"fluoride_p3_coverage_uv", "fluoride_bt2020_coverage_uv"}, fluoride_coverage}});
}
