#pragma once
// Loans in which everything differs from one to the next: display unit, meter errors drawn from the certificate, noise,
// drift. Real procedures, simulated display and meter; what is true is asked of the display, never of the evaluation.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/procedure/procedure.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::bench {

/// What a loan's display truly does, in the state of each run's first reference reading.
struct LoanTruth {
  double peak_cdm2 = 0;   ///< 10 % window
  double black_cdm2 = 0;  ///< full field
  double u_prime = 0, v_prime = 0;
  double mean_delta_e_itp = 0;
};

struct SimulatedLoan {
  std::vector<evaluation::RunData> runs;
  evaluation::EvaluationInput input;
  LoanTruth truth;
};

/// The clip point by its definition, on true light in rising order of code: first step from which all give the highest
/// light within 0.5 %; all of them if only the last one does.
inline std::size_t true_clip(const std::vector<double>& cdm2) {
  const double enough = 0.995 * *std::max_element(cdm2.begin(), cdm2.end());
  std::size_t first = cdm2.size();
  while (first > 0 && cdm2[first - 1] >= enough) --first;
  return first + 1 < cdm2.size() ? first : cdm2.size();
}

/// Mean Delta E ITP of true light over the PQ steps above black and below the clip point.
inline double true_mean_delta_e(const simulated::SimulatedDisplay& display, const evaluation::RunData& run) {
  std::vector<std::pair<int, signal::Signal>> steps;
  Timestamp settled{};
  for (auto r = run.readings.rbegin(); r != run.readings.rend(); ++r) {
    if (r->step == "reference") settled = r->taken;
    const auto same = [&](const auto& s) { return s.first == r->signal.patch.code[0]; };
    if (r->step != "reference" && std::none_of(steps.begin(), steps.end(), same))
      steps.emplace_back(r->signal.patch.code[0], r->signal);
  }
  std::sort(steps.begin(), steps.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<colour::AbsoluteXyz<>> light;
  std::vector<double> cdm2;
  for (const auto& [code, signal] : steps) {
    light.push_back(display.truth(signal, settled));
    cdm2.push_back(light.back().Y);
  }
  double sum = 0;
  int n = 0;
  for (std::size_t j = 0; j < true_clip(cdm2); ++j) {
    const double value = (steps[j].first - 64) / 876.0;  // 10 bit, narrow
    if (value <= 0) continue;
    const auto target = colour::pq_eotf(colour::Signal<>{.value = value});
    sum += colour::itp_difference(colour::xyz_from_xy(colour::d65_video, target), light[j]).total;
    ++n;
  }
  return sum / n;
}

/// The same unit with its faults scaled: deviations of tracking, near-black behaviour and distance of white from D65.
inline simulated::DisplayPhysics with_faults(simulated::DisplayPhysics physics, double scale) {
  for (auto& primary : physics.primaries) {
    for (auto& d : primary.tracking) d.amount *= scale;
    primary.near_black_exponent *= scale;
    primary.level_shift_nm *= scale;
  }
  physics.white.x = colour::d65_video.x + scale * (physics.white.x - colour::d65_video.x);
  physics.white.y = colour::d65_video.y + scale * (physics.white.y - colour::d65_video.y);
  return physics;
}

/// Loan number `seed`. `faults` scales those of the unit: 0 for a nearly perfect display, 1 as built, more for a poor
/// one. Aborts the program on an error: there is none to expect.
inline SimulatedLoan simulated_loan(std::uint64_t seed, const std::vector<std::string>& procedures, int draws = 1000,
                                    double faults = 1) {
  const auto must = [](auto&& result) {
    if (!result) {
      fmt::print(stderr, "{}\n", result.error().text());
      std::abort();
    }
    return std::move(*result);
  };
  const auto physics = with_faults(
      simulated::vary(must(simulated::built_in_physics(seed % 2 == 0 ? "tern-32" : "curlew-27")), seed), faults);
  const double mixed = static_cast<double>((seed * 2654435761u) % 1000) / 1000;
  simulated::SimulatedClock clock({1.8e9});
  const Timestamp powered_on{1.8e9 - 2400 - 3600 * mixed};  // warm for 40 to 100 minutes
  simulated::SimulatedDisplay display(physics, clock, {.seed = seed, .powered_on = powered_on});
  simulated::MeterModel model;
  model.certificate.zero_offset_standard_cdm2 = 0.0002;
  simulated::SimulatedMeter meter(model, display, clock, seed);

  SimulatedLoan loan;
  loan.input = {.encoding = {},
                .certificate = model.certificate,
                .capabilities = model.capabilities,
                .seed = seed,
                .monte_carlo_draws = draws};
  procedure::Context context{.expected_peak_cdm2 = physics.claimed_peak_cdm2, .capabilities = model.capabilities};
  std::int64_t index = 0;
  for (const auto& id : procedures) {
    const auto* procedure = procedure::find_procedure(id);
    evaluation::RunData data;
    data.run = {.id = static_cast<store::Id>(loan.runs.size() + 1),
                .procedure = id,
                .parameters = procedure->default_parameters(),
                .state = store::RunState::finished,
                .started = clock.now()};
    for (;;) {
      auto step = must(procedure->next(context, data.readings));
      if (!step) break;
      if (step->rest.s > 0) {
        (void)display.show({.patch = signal::black_code({}), .surround = signal::black_code({})});
        clock.wait(step->rest);
      }
      (void)display.show(step->signal);
      clock.wait(step->settle);
      store::ReadingRecord reading{.id = index + 1,
                                   .run = data.run.id,
                                   .sequence = static_cast<std::int64_t>(data.readings.size()),
                                   .step = step->key,
                                   .taken = clock.now(),
                                   .signal = step->signal};
      reading.measurement = must(meter.measure(index++));
      data.readings.push_back(std::move(reading));
    }
    loan.runs.push_back(std::move(data));
  }
  for (const auto& run : loan.runs) {
    const Timestamp first = run.readings.front().taken;
    for (const auto& r : run.readings) {
      if (r.step == "window_10") loan.truth.peak_cdm2 = display.truth(r.signal, first).Y;
      if (r.step == "black") loan.truth.black_cdm2 = display.truth(r.signal, first).Y;
      if (r.step == "white" && run.run.procedure == "white_point") {
        const auto uv = colour::uv_prime_from_xyz(display.truth(r.signal, first));
        loan.truth.u_prime = uv.u;
        loan.truth.v_prime = uv.v;
      }
    }
    if (run.run.procedure == "greyscale") loan.truth.mean_delta_e_itp = true_mean_delta_e(display, run);
  }
  return loan;
}

}  // namespace provenit::bench
