#pragma once
// One run of one procedure on a simulated display, as the runner would make it (placement, mode, rest, stay, interval),
// with the light that was really there beside each reading. For methods whose truth is more than one signal at the
// centre.
#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "provenit/evaluation/evaluate.h"
#include "provenit/procedure/procedure.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::bench {

struct PlayOptions {
  std::string display;  ///< empty: tern-32 and curlew-27 by turns
  nlohmann::json parameters = nlohmann::json::object();
  int draws = 1000;
  double angle_error_deg = 0.5;  ///< that of a person with a protractor
  /// Veiling glare of the meter's lens: this share of the signal's other light is added to what is read; drawn for each
  /// loan as normal(glare, glare_u).
  double glare = 0, glare_u = 0;
};

struct PlayedLoan {
  simulated::SimulatedClock clock{{1.8e9}};
  std::optional<simulated::SimulatedDisplay> display;
  evaluation::RunData run;
  evaluation::EvaluationInput input;
  /// Light at the meter in the middle of each reading, free of noise; what drifts has drifted in it.
  std::vector<colour::AbsoluteXyz<>> light;

  /// Luminance of the sustained procedure's bright field every kCourseStep seconds from its showing to its last
  /// reading.
  static constexpr double kCourseStep = 0.5;
  std::vector<double> stay_course;

  /// Where the slow changes stood at the first reading: what drift-corrected findings speak of.
  [[nodiscard]] simulated::ThermalState first_state() const { return display->thermal(run.readings.front().taken); }
  /// True light of a step in that state.
  [[nodiscard]] colour::AbsoluteXyz<> truth(const std::string& step) const {
    for (const auto& r : run.readings)
      if (r.step == step)
        return display->truth(
            r.signal, first_state(), *instrument::placement_from_json(r.context["placement"]),
            instrument::local_dimming_from_name(r.context.value("local_dimming", "as_found")).value());
    return {};
  }
  /// Mean of the light that was there over the readings of a step.
  [[nodiscard]] colour::AbsoluteXyz<> seen(const std::string& step) const {
    colour::AbsoluteXyz<> sum;
    double n = 0;
    for (std::size_t i = 0; i < light.size(); ++i)
      if (run.readings[i].step == step)
        sum = {.X = sum.X + light[i].X, .Y = sum.Y + light[i].Y, .Z = sum.Z + light[i].Z}, ++n;
    return {.X = sum.X / n, .Y = sum.Y / n, .Z = sum.Z / n};
  }
};

/// A standard normal number from a seed.
inline double normal_of(std::uint64_t seed) {
  const auto next = [&seed] {
    seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return (static_cast<double>(seed >> 11) + 0.5) * 0x1p-53;
  };
  next();
  const double a = next(), b = next();
  return std::sqrt(-2 * std::log(a)) * std::cos(6.283185307179586 * b);
}

/// Loan number `seed`: another unit, another meter, another warmth. Aborts the program on an error: there is none to
/// expect.
inline void play_loan(PlayedLoan& loan, std::uint64_t seed, const std::string& id, const PlayOptions& options = {}) {
  const auto must = [](auto&& result) {
    if (!result) {
      fmt::print(stderr, "{}\n", result.error().text());
      std::abort();
    }
    return std::move(*result);
  };
  const auto ok = [](const Result<void>& result) {
    if (result) return;
    fmt::print(stderr, "{}\n", result.error().text());
    std::abort();
  };
  const auto kind = !options.display.empty() ? options.display : seed % 2 == 0 ? "tern-32" : "curlew-27";
  const auto physics = simulated::vary(must(simulated::built_in_physics(kind)), seed);
  auto& clock = loan.clock;
  const double mixed = static_cast<double>((seed * 2654435761u) % 1000) / 1000;
  auto& display = loan.display.emplace(
      physics, clock,
      simulated::SimulatedDisplay::Options{
          .seed = seed, .powered_on = {1.8e9 - 2400 - 3600 * mixed}, .angle_error_deg = options.angle_error_deg});
  simulated::MeterModel model;
  model.certificate.zero_offset_standard_cdm2 = 0.0002;
  simulated::SimulatedMeter meter(model, display, clock, seed);
  loan.input = {.encoding = {},
                .certificate = model.certificate,
                .capabilities = model.capabilities,
                .surround_cdm2 = {},
                .seed = seed,
                .monte_carlo_draws = options.draws};
  const double glare = options.glare + options.glare_u * normal_of(seed ^ 0x91e6);
  const auto* procedure = procedure::find_procedure(id);
  const procedure::Context context{.expected_peak_cdm2 = physics.claimed_peak_cdm2,
                                   .capabilities = model.capabilities,
                                   .parameters = options.parameters};
  auto& data = loan.run;
  data.run = {.id = 1,
              .procedure = id,
              .procedure_version = procedure->version(),
              .parameters = must(procedure::merged_parameters(*procedure, context)),
              .state = store::RunState::finished,
              .started = clock.now()};
  instrument::Placement placed;
  std::optional<signal::Signal> shown;
  Timestamp shown_since = clock.now();
  const auto show = [&](const signal::Signal& signal) {
    if (shown == signal) return false;
    ok(display.show(signal));
    shown = signal;
    shown_since = clock.now();
    return true;
  };
  for (;;) {
    auto step = must(procedure->next(context, data.readings));
    if (!step) break;
    const auto black = signal::black_code(step->signal.encoding);
    if (step->rest.s > 0) show({.encoding = step->signal.encoding, .patch = black, .surround = black, .geometry = {}});
    if (step->placement != placed) clock.wait(step->move);
    placed = step->placement;
    ok(display.place(placed));
    ok(display.set_local_dimming(step->local_dimming));
    clock.wait(step->rest);
    if (show(step->signal)) clock.wait(step->settle);
    clock.wait(shown_since + step->stay - clock.now());
    if (!data.readings.empty()) clock.wait(data.readings.back().taken + step->interval - clock.now());
    const auto n = static_cast<std::int64_t>(data.readings.size());
    store::ReadingRecord reading{.id = n + 1,
                                 .run = 1,
                                 .sequence = n,
                                 .step = step->key,
                                 .taken = clock.now(),
                                 .signal = step->signal,
                                 .measurement = {},
                                 .context = {{"settle_s", step->settle.s},
                                             {"shown_s", (clock.now() - shown_since).s},
                                             {"placement", instrument::to_json(step->placement)}}};
    if (step->local_dimming != instrument::LocalDimming::as_found)
      reading.context["local_dimming"] = instrument::name_of(step->local_dimming);
    reading.measurement = must(meter.measure(n));
    if (step->key.starts_with("stay_"))
      for (auto k = loan.stay_course.size();; ++k) {
        const double s = PlayedLoan::kCourseStep * static_cast<double>(k);
        if (s > (reading.taken - shown_since).s) break;
        loan.stay_course.push_back(display.light(shown_since + Seconds{s}).Y);
      }
    loan.light.push_back(display.light(reading.taken + 0.5 * reading.measurement.integration));
    if (glare != 0 && step->key.starts_with("check_")) {
      auto other = step->signal;
      std::swap(other.patch, other.surround);
      const auto stray = meter.without_noise(display.truth(other, display.thermal(reading.taken), placed));
      auto& xyz = reading.measurement.xyz;
      xyz = {.X = xyz.X + glare * stray.X, .Y = xyz.Y + glare * stray.Y, .Z = xyz.Z + glare * stray.Z};
    }
    data.readings.push_back(std::move(reading));
  }
}

}  // namespace provenit::bench
