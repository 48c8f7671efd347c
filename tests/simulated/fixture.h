#pragma once
// Signals and displays that the tests of the simulator share.
#include <gtest/gtest.h>

#include <cmath>
#include <string_view>

#include "provenit/colour/quantise.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/signal.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated::testing {

inline constexpr Timestamp kStart{1.8e9};

inline DisplayPhysics physics_of(std::string_view id) {
  auto physics = built_in_physics(id);
  if (!physics) throw std::runtime_error(physics.error().text());
  return *physics;
}

/// The same display, warm and steady.
inline DisplayPhysics steady(DisplayPhysics physics) {
  physics.thermal.fast = physics.thermal.slow = {};
  physics.thermal.wander_luminance = physics.thermal.wander_channel = 0;
  return physics;
}

inline signal::Signal patch(signal::CodeRgb code, double area = 1, signal::Encoding encoding = {}) {
  signal::Signal s{.encoding = encoding, .patch = code, .surround = signal::black_code(encoding)};
  if (area < 1) s.geometry = {.shape = signal::Shape::window, .area_fraction = area};
  return s;
}

inline signal::Signal white(double area = 1, signal::Encoding encoding = {}) {
  return patch(signal::peak_code(encoding), area, encoding);
}

inline signal::Signal black() {
  return patch(signal::black_code({}));
}

/// PQ grey nearest to this luminance.
inline signal::Signal grey(double cdm2, double area = 1, signal::Encoding encoding = {}) {
  return patch(signal::grey_code(encoding, colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2})), area, encoding);
}

inline double signal_of(const signal::Signal& s) {
  const auto range = s.encoding.range == signal::Range::full ? colour::Range::full : colour::Range::narrow;
  return colour::dequantise({.value = s.patch.code[1], .bits = s.encoding.bits, .range = range}).value;
}

inline colour::Xy<> xy_of(const colour::AbsoluteXyz<>& c) {
  const double sum = c.X + c.Y + c.Z;
  return {.x = c.X / sum, .y = c.Y / sum};
}

inline ThermalState warm() {
  return SimulatedDisplay::settled_thermal();
}

}  // namespace provenit::simulated::testing
