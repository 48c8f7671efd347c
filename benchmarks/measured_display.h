#pragma once
// A simulated display with its meter, read patch by patch as `provenit correct read` does, and its true light: for the
// figures and the tests of corrections. The meter's errors are its noise alone; what a certificate leaves unsure is in
// the display's target as much as in its light.
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "provenit/colour/transfer_pq.h"
#include "provenit/correct/patch_choice.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::bench {

class MeasuredDisplay {
 public:
  MeasuredDisplay(const std::string& id, std::uint64_t seed)
      : physics_(simulated::vary(simulated::built_in_physics(id).value(), seed)), clock_(Timestamp{}) {
    clock_.wait(kWarm);
    display_ = std::make_unique<simulated::SimulatedDisplay>(
        physics_, clock_, simulated::SimulatedDisplay::Options{.seed = seed, .powered_on = Timestamp{}});
    model_.certificate = {.luminance_expanded_relative = 0, .x_expanded = 0, .y_expanded = 0};
    meter_ = std::make_unique<simulated::SimulatedMeter>(model_, *display_, clock_, seed);
    begun_ = clock_.now();
  }

  [[nodiscard]] static signal::Encoding encoding() { return {.bits = 12}; }
  [[nodiscard]] double claimed_peak_cdm2() const { return physics_.claimed_peak_cdm2; }
  [[nodiscard]] double minutes() const { return (clock_.now() - begun_).s / 60; }
  [[nodiscard]] const std::vector<correct::ModelReading>& readings() const { return readings_; }

  /// The code nearest to a signal, in a window of 4 % on black.
  [[nodiscard]] static signal::Signal shown(const colour::SignalRgb<>& e) {
    return {.encoding = encoding(),
            .patch = signal::nearest_code(encoding(), e),
            .surround = signal::black_code(encoding()),
            .geometry = {.shape = signal::Shape::window, .area_fraction = 0.04}};
  }
  [[nodiscard]] correct::ReadingCost cost(const colour::AbsoluteXyz<>& light) const {
    return correct::reading_cost(model_.capabilities, kSettle, light);
  }

  /// Reads a patch, with the reference before it where that is due.
  void read(const colour::SignalRgb<>& e) {
    constexpr int kEvery = 12;
    if (since_ % kEvery == 0) read_reference();
    take(e, false);
    ++since_;
  }
  void read_reference() {
    const double e = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 200}).value;
    take({.r = e, .g = e, .b = e}, true);
  }

  /// First patches, then batches chosen by the model, up to this time of measuring.
  void read_chosen(double until_minutes, const colour::Primaries<>& primaries) {
    const colour::Luminance<> peak{.cdm2 = claimed_peak_cdm2()};
    for (const auto& e : correct::first_patches(encoding(), peak)) read(e);
    const auto choice = correct::patch_choice(encoding(), primaries, peak);
    while (minutes() < until_minutes) {
      const auto model =
          correct::DisplayModel::fit(encoding(), readings_, {.diagnose = false, .refuse_outliers = false});
      if (!model) return;
      const int batch = correct::batch_size(static_cast<int>(readings_.size()));
      for (const auto& p : correct::next_patches(
               *model, choice.candidates, choice.targets, [&](const auto& l) { return cost(l); }, batch)) {
        read(p.signal);
        if (minutes() >= until_minutes) break;
      }
    }
    read_reference();
  }

  /// Light of the display as it is now, without noise.
  [[nodiscard]] colour::AbsoluteXyz<> truth(const signal::Signal& signal) const {
    return display_->truth(signal, display_->thermal(clock_.now()));
  }
  [[nodiscard]] colour::AbsoluteXyz<> truth(const colour::SignalRgb<>& e) const { return truth(shown(e)); }

 private:
  static constexpr Seconds kWarm{3600}, kSettle{1.5};

  void take(const colour::SignalRgb<>& e, bool reference) {
    const auto signal = shown(e);
    (void)display_->show(signal);
    clock_.wait(kSettle);
    const Timestamp at = clock_.now();
    const auto m = meter_->measure(static_cast<std::int64_t>(readings_.size())).value();
    readings_.push_back({.name = "reading " + std::to_string(readings_.size() + 1),
                         .signal = signal::signal_of(encoding(), signal.patch),
                         .light = m.xyz,
                         .covariance = correct::reading_noise(model_.capabilities, m.xyz, m.integration),
                         .time_s = (at - begun_).s + m.integration.s / 2,
                         .reference = reference});
  }

  simulated::DisplayPhysics physics_;
  simulated::SimulatedClock clock_;
  simulated::MeterModel model_;
  std::unique_ptr<simulated::SimulatedDisplay> display_;
  std::unique_ptr<simulated::SimulatedMeter> meter_;
  Timestamp begun_{};
  std::vector<correct::ModelReading> readings_;
  int since_ = 0;
};

}  // namespace provenit::bench
