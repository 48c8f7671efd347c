#include "provenit/simulated/display.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <utility>

#include "emitters_internal.h"
#include "panel_internal.h"
#include "picture_internal.h"
#include "provenit/signal/codes.h"
#include "thermal_internal.h"

namespace provenit::simulated {
namespace {

Emitters emitters_of(const DisplayPhysics& physics) {
  auto made = Emitters::make(physics);
  if (!made) throw std::invalid_argument(made.error().text());  // parse_physics and vary() let no such physics through
  return *made;
}

signal::Signal black_field() {
  signal::Signal s;
  s.patch = s.surround = signal::black_code(s.encoding);
  return s;
}

instrument::SpectralReading reading_of(const Samples& samples) {
  return {.start_nm = kFirstNm, .step_nm = 1, .radiance = {samples.begin(), samples.end()}};
}

}  // namespace

struct SimulatedDisplay::Impl {
  DisplayPhysics physics;
  const Clock* clock;
  Options options;
  Emitters emitters;
  Panel panel;
  Optics optics;
  ThermalDrift drift;

  Demand demand;      ///< of what is shown
  Backlight settled;  ///< of it
  Standing before;    ///< when it was shown
  Timestamp shown_at;

  Impl(DisplayPhysics p, const Clock& c, const Options& o)
      : physics(std::move(p)),
        clock(&c),
        options(o),
        emitters(emitters_of(physics)),
        panel(physics),
        optics(physics, o.spot_x, o.spot_y),
        drift(physics.thermal, o.seed, o.powered_on),
        shown_at{c.now()} {
    demand = optics.demand(black_field());
    settled = optics.settled(demand);
    before = {.cap = demand.cap, .zones = demand.zones};
  }

  void show(const signal::Signal& signal) {
    const Timestamp now = clock->now();
    before = optics.standing(before, demand, now - shown_at);
    demand = optics.demand(signal);
    settled = optics.settled(demand);
    shown_at = now;
  }

  [[nodiscard]] Mixture mixture(Timestamp at) const {
    const Seconds since = at - shown_at;
    const Backlight b = since >= optics.lag() ? settled : optics.backlight(optics.standing(before, demand, since));
    return panel.mixture(demand.at_spot, b, drift.at(at));
  }

  /// Mean over [from, to] by the midpoint rule.
  [[nodiscard]] Vector mean(double from, double to, int parts) const {
    Vector sum{};
    for (int i = 0; i < parts; ++i) {
      const auto xyz = emitters.xyz(mixture({from + (to - from) * (i + 0.5) / parts}));
      sum[0] += xyz.X / parts;
      sum[1] += xyz.Y / parts;
      sum[2] += xyz.Z / parts;
    }
    return sum;
  }

  /// Mean of 1 + depth * sin(2 pi f t).
  [[nodiscard]] double modulation(Timestamp from, Seconds span) const {
    if (physics.modulation <= 0) return 1;
    const double turn = 2 * std::numbers::pi * physics.refresh_hz;
    const double start = turn * (from - options.powered_on).s;
    return 1 + physics.modulation * (std::cos(start) - std::cos(start + turn * span.s)) / (turn * span.s);
  }

  [[nodiscard]] Mixture true_mixture(const signal::Signal& signal, const ThermalState& state) const {
    const Demand asked = optics.demand(signal);
    return panel.mixture(asked.at_spot, optics.settled(asked), state);
  }
};

SimulatedDisplay::SimulatedDisplay(DisplayPhysics physics, const Clock& clock, Options options)
    : impl_(std::make_unique<Impl>(std::move(physics), clock, options)) {}
SimulatedDisplay::~SimulatedDisplay() = default;
SimulatedDisplay::SimulatedDisplay(SimulatedDisplay&&) noexcept = default;
SimulatedDisplay& SimulatedDisplay::operator=(SimulatedDisplay&&) noexcept = default;

Result<void> SimulatedDisplay::show(const signal::Signal& signal) {
  if (auto valid = signal::validate(signal); !valid) return valid;
  impl_->show(signal);
  return {};
}

const DisplayPhysics& SimulatedDisplay::physics() const {
  return impl_->physics;
}

const Clock& SimulatedDisplay::clock() const {
  return *impl_->clock;
}

Seconds SimulatedDisplay::lag() const {
  return impl_->optics.lag();
}

colour::AbsoluteXyz<> SimulatedDisplay::light(Timestamp at) const {
  return impl_->emitters.xyz(impl_->mixture(at));
}

colour::AbsoluteXyz<> SimulatedDisplay::mean_light(Timestamp from, Seconds span) const {
  // While zones and limiter move, the light changes quickly; afterwards only with the temperature.
  constexpr int moving_parts = 64, settled_parts = 3;
  const double start = from.unix_s, end = start + span.s;
  const double still_from = std::clamp((impl_->shown_at + impl_->optics.lag()).unix_s, start, end);
  Vector sum{};
  const auto add = [&](double a, double b, int parts) {
    if (b <= a) return;
    const Vector part = impl_->mean(a, b, parts);
    for (std::size_t k = 0; k < 3; ++k) sum[k] += part[k] * (b - a) / (end - start);
  };
  add(start, still_from, moving_parts);
  add(still_from, end, settled_parts);
  const double m = impl_->modulation(from, span);
  return {.X = sum[0] * m, .Y = sum[1] * m, .Z = sum[2] * m};
}

instrument::SpectralReading SimulatedDisplay::spectrum(Timestamp at) const {
  return reading_of(impl_->emitters.spectrum(impl_->mixture(at)));
}

ThermalState SimulatedDisplay::thermal(Timestamp at) const {
  return impl_->drift.at(at);
}

colour::AbsoluteXyz<> SimulatedDisplay::truth(const signal::Signal& signal, const ThermalState& state) const {
  return impl_->emitters.xyz(impl_->true_mixture(signal, state));
}

colour::AbsoluteXyz<> SimulatedDisplay::truth(const signal::Signal& signal, Timestamp at) const {
  return truth(signal, thermal(at));
}

instrument::SpectralReading SimulatedDisplay::truth_spectrum(const signal::Signal& signal,
                                                             const ThermalState& state) const {
  return reading_of(impl_->emitters.spectrum(impl_->true_mixture(signal, state)));
}

}  // namespace provenit::simulated
