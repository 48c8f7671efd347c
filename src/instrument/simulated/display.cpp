#include "provenit/simulated/display.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <utility>

#include "emitters_internal.h"
#include "panel_internal.h"
#include "picture_internal.h"
#include "provenit/signal/codes.h"
#include "random_internal.h"
#include "thermal_internal.h"
#include "view_internal.h"

namespace provenit::simulated {
namespace {

constexpr std::uint64_t kAngleStream = 200;

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
  PictureControls controls;
  Optics optics;
  ThermalDrift drift;

  instrument::Placement placement;
  instrument::LocalDimming dimming = instrument::LocalDimming::as_found;
  ViewFactors view;

  signal::Signal shown = black_field();
  Demand demand;      ///< of what is shown
  Backlight settled;  ///< of it
  Standing before;    ///< when it was shown
  double stay_before = 0;
  Timestamp shown_at;

  Impl(DisplayPhysics p, const Clock& c, const Options& o)
      : physics(std::move(p)),
        clock(&c),
        options(o),
        emitters(emitters_of(physics)),
        panel(physics),
        controls(physics),
        optics(physics, controls, o.spot_x, o.spot_y),
        drift(physics.thermal, o.seed, o.powered_on),
        placement{.x = o.spot_x, .y = o.spot_y},
        view(view_factors(physics, placement)),
        shown_at{c.now()} {
    demand = optics.demand(shown, true);
    settled = optics.settled(demand);
    before = {.cap = demand.cap, .zones = demand.zones};
  }

  void show(const signal::Signal& signal) {
    const Timestamp now = clock->now();
    stay_before = stay(now);
    before = optics.standing(before, demand, now - shown_at);
    shown = signal;
    look();
    shown_at = now;
  }

  /// What is shown, from where the meter stands now.
  void look() {
    demand = optics.demand(shown, dimming != instrument::LocalDimming::off);
    settled = optics.settled(demand);
  }

  /// The controls have been set.
  void turn() {
    optics = Optics(physics, controls, placement.x, placement.y);
    show(shown);
  }

  void place(const instrument::Placement& wanted) {
    placement = wanted;
    optics = Optics(physics, controls, wanted.x, wanted.y);
    view = view_factors(physics, really(wanted));
    look();
  }

  /// Where the meter really stands when it is told to stand there.
  [[nodiscard]] instrument::Placement really(instrument::Placement at) const {
    if (options.angle_error_deg <= 0) return at;
    std::uint64_t key = options.seed;
    for (const double v : {at.x, at.y, at.horizontal_deg, at.vertical_deg})
      key = mixed(key ^ std::bit_cast<std::uint64_t>(v));
    const Random random(key, kAngleStream);
    if (at.horizontal_deg != 0) at.horizontal_deg += options.angle_error_deg * random.normal(0);
    if (at.vertical_deg != 0) at.vertical_deg += options.angle_error_deg * random.normal(1);
    return at;
  }

  /// Share by which the slow dimming of bright stays lowers the cap.
  [[nodiscard]] double stay(Timestamp at) const {
    const auto& s = physics.stay_dimming;
    if (s.depth <= 0) return 0;
    const Seconds since = at - shown_at;
    const double left = stay_before * remaining(since, s.recovery_s);
    if (since.s <= s.delay_s || demand.load <= s.from_load) return left;
    const double target = s.depth * (std::min(demand.load, 1.0) - s.from_load) / (1 - s.from_load);
    return std::max(left, target * (1 - std::exp(-(since.s - s.delay_s) / s.time_s)));
  }

  [[nodiscard]] Backlight backlight(Timestamp at) const {
    const Seconds since = at - shown_at;
    const double dimmed = stay(at);
    if (since >= optics.lag() && dimmed == 0) return settled;
    Standing now = optics.standing(before, demand, since);
    now.cap *= 1 - dimmed;
    return optics.backlight(now);
  }

  [[nodiscard]] Mixture mixture(Timestamp at) const {
    return view.applied(panel.mixture(demand.at_spot, backlight(at), drift.at(at)));
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
    return true_mixture(signal, state, placement, optics, dimming);
  }
  [[nodiscard]] Mixture true_mixture(const signal::Signal& signal, const ThermalState& state,
                                     const instrument::Placement& from, const Optics& seen,
                                     instrument::LocalDimming mode) const {
    const Demand asked = seen.demand(signal, mode != instrument::LocalDimming::off);
    return view_factors(physics, from).applied(panel.mixture(asked.at_spot, seen.settled(asked), state));
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

Result<void> SimulatedDisplay::place(const instrument::Placement& placement) {
  if (auto valid = instrument::validate(placement); !valid) return valid;
  if (placement != impl_->placement) impl_->place(placement);
  return {};
}

Result<void> SimulatedDisplay::set_local_dimming(instrument::LocalDimming mode) {
  if (!impl_->physics.zones && mode != instrument::LocalDimming::as_found)
    return fail(ErrorCode::unsupported, impl_->physics.name + " has no local dimming to switch",
                "Leave local_dimming as found.", {.field = "local_dimming"});
  if (mode == impl_->dimming) return {};
  impl_->dimming = mode;
  impl_->show(impl_->shown);
  return {};
}

Result<instrument::ControlSettings> SimulatedDisplay::set_controls(const instrument::ControlSettings& wanted) {
  const auto moved = impl_->controls.set(wanted);
  if (!moved) return tl::unexpected(moved.error());
  if (*moved) impl_->turn();
  return wanted;
}

std::vector<instrument::DisplayControl> SimulatedDisplay::controls() const {
  return impl_->controls.state();
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

colour::AbsoluteXyz<> SimulatedDisplay::truth(const signal::Signal& signal, const ThermalState& state,
                                              const instrument::Placement& placement,
                                              instrument::LocalDimming mode) const {
  const Optics seen(impl_->physics, impl_->controls, placement.x, placement.y);
  return impl_->emitters.xyz(impl_->true_mixture(signal, state, placement, seen, mode));
}

instrument::SpectralReading SimulatedDisplay::truth_spectrum(const signal::Signal& signal,
                                                             const ThermalState& state) const {
  return reading_of(impl_->emitters.spectrum(impl_->true_mixture(signal, state)));
}

}  // namespace provenit::simulated
