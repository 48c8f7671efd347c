#pragma once
// A simulated display on loan, read as a forecast needs it: a model's patches, the standard procedures, the probes and
// the checks, with a meter's noise and the errors of its certificate. And its true light of whole pictures.
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "played_loan.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/correct/patch_choice.h"
#include "provenit/correct/reading_noise.h"
#include "provenit/forecast/display.h"
#include "provenit/signal/encoding.h"
#include "provenit/simulated/frame.h"

namespace provenit::bench {

class ForecastLoan {
 public:
  ForecastLoan(std::string kind, std::uint64_t seed)
      : kind_(std::move(kind)),
        seed_(seed),
        physics_(simulated::vary(simulated::built_in_physics(kind_).value(), seed)),
        // As play_loan has it: one unit, one warmth.
        display_(physics_, clock_,
                 {.seed = seed,
                  .powered_on = {1.8e9 - 2400 - 3600 * static_cast<double>((seed * 2654435761u) % 1000) / 1000}}) {
    model_.certificate.zero_offset_standard_cdm2 = 0.0002;
    meter_ = std::make_unique<simulated::SimulatedMeter>(model_, display_, clock_, seed);
  }

  [[nodiscard]] const simulated::DisplayPhysics& physics() const { return physics_; }
  [[nodiscard]] simulated::ThermalState state() const { return display_.thermal(clock_.now()); }

  /// One reading of a signal at a place.
  forecast::SpotReading read(const forecast::Probe& probe) {
    (void)display_.place({.x = probe.x, .y = probe.y});
    const auto m = reading_of(probe.signal);
    const auto noise = correct::reading_noise(model_.capabilities, m.xyz, m.integration);
    return {.name = probe.name,
            .signal = probe.signal,
            .x = probe.x,
            .y = probe.y,
            .light = m.xyz,
            .standard_uncertainty_cdm2 = std::sqrt(noise(1, 1))};
  }
  std::vector<forecast::SpotReading> read(const std::vector<forecast::Probe>& probes) {
    std::vector<forecast::SpotReading> out;
    for (const auto& p : probes) out.push_back(read(p));
    (void)display_.place({});
    return out;
  }

  /// All that a forecast is made from.
  forecast::Evidence evidence() {
    const int columns = physics_.zones ? physics_.zones->columns : 0, rows = physics_.zones ? physics_.zones->rows : 0;
    auto model = display_model();
    std::vector<evaluation::RunData> runs;
    evaluation::EvaluationInput input;
    for (const char* id : {"window_peak", "black_level", "halo", "checkerboard", "uniformity"}) {
      PlayOptions options{.display = kind_};
      if (std::string(id) == "uniformity") options.parameters = {{"points", 25}};
      PlayedLoan loan;
      play_loan(loan, seed_, id, options);
      loan.run.run.id = static_cast<store::Id>(runs.size() + 1);
      for (auto& r : loan.run.readings) r.run = loan.run.run.id, r.id += 1000 * loan.run.run.id;
      input = loan.input;
      runs.push_back(loan.run);
    }
    auto spots = forecast::spot_readings(runs, input).value();
    for (auto& s : read(forecast::probe_signals({}, columns, rows))) spots.push_back(std::move(s));
    return {.model = std::move(model),
            .model_area_percent = 100 * kModelArea,
            .zone_columns = columns,
            .zone_rows = rows,
            .aspect = physics_.aspect,
            .spots = std::move(spots),
            .checks = read(forecast::check_signals({})),
            .speeds = {},
            .certificate = model_.certificate};
  }

 private:
  static constexpr double kModelArea = 0.04;
  static constexpr Seconds kSettle{2};

  instrument::Measurement reading_of(const signal::Signal& signal) {
    (void)display_.show(signal);
    clock_.wait(kSettle);
    return meter_->measure(taken_++).value();
  }

  void add(std::vector<correct::ModelReading>& to, const colour::SignalRgb<>& e, bool reference) {
    const signal::Encoding encoding;
    const signal::Signal signal{.encoding = encoding,
                                .patch = signal::nearest_code(encoding, e),
                                .surround = signal::black_code(encoding),
                                .geometry = {.shape = signal::Shape::window, .area_fraction = kModelArea}};
    const Timestamp at = clock_.now() + kSettle;
    const auto m = reading_of(signal);
    to.push_back({.name = "patch " + std::to_string(to.size() + 1),
                  .signal = signal::signal_of(encoding, signal.patch),
                  .light = m.xyz,
                  .covariance = correct::reading_noise(model_.capabilities, m.xyz, m.integration),
                  .time_s = (at - Timestamp{1.8e9}).s + m.integration.s / 2,
                  .reference = reference});
  }

  /// From the first patches and 60 of those that a correction is for, evenly spread: what half an hour gives.
  correct::DisplayModel display_model() {
    const colour::Luminance<> peak{.cdm2 = physics_.claimed_peak_cdm2};
    auto patches = correct::first_patches({}, peak);
    for (const auto& e : correct::target_signals({}, colour::p3_d65_primaries, peak, 60)) patches.push_back(e);
    std::vector<correct::ModelReading> readings;
    const double white = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 200}).value;
    const colour::SignalRgb<> reference{.r = white, .g = white, .b = white};
    for (std::size_t i = 0; i < patches.size(); ++i) {
      if (i % 12 == 0) add(readings, reference, true);
      add(readings, patches[i], false);
    }
    add(readings, reference, true);
    auto model = correct::DisplayModel::fit({}, readings, {.diagnose = false, .refuse_outliers = false});
    if (!model) {
      fmt::print(stderr, "{}\n", model.error().text());
      std::abort();
    }
    return std::move(*model);
  }

  std::string kind_;
  std::uint64_t seed_;
  simulated::DisplayPhysics physics_;
  simulated::SimulatedClock clock_{{1.8e9}};
  simulated::SimulatedDisplay display_;
  simulated::MeterModel model_;
  std::unique_ptr<simulated::SimulatedMeter> meter_;
  std::int64_t taken_ = 0;
};

}  // namespace provenit::bench
