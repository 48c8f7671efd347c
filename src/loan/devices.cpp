#include "provenit/loan/devices.h"

#include <fmt/format.h>

#include <filesystem>
#include <istream>
#include <ostream>

#include "loan_internal.h"
#include "provenit/base/text.h"
#include "provenit/instrument/line_instrument.h"
#include "provenit/instrument/manual.h"
#include "provenit/signal/png16.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::loan {
namespace {

using instrument::LocalDimming;
using instrument::Placement;

/// What setting some controls by hand takes. Common practice, no source.
constexpr Seconds kUsualSetting{20};

/// How the last reading was taken; the defaults where there is none, or it does not say.
struct Standing {
  Placement placement;
  LocalDimming local_dimming = LocalDimming::as_found;
  instrument::ControlSettings controls;

  Standing(const std::optional<store::ReadingRecord>& last, instrument::ControlSettings left)
      : controls(std::move(left)) {
    if (!last) return;
    if (const auto kept = last->context.find("placement"); kept != last->context.end())
      placement = instrument::placement_from_json(*kept).value_or(Placement{});
    local_dimming = instrument::local_dimming_from_name(last->context.value("local_dimming", std::string()))
                        .value_or(LocalDimming::as_found);
  }
};

/// The simulated display as presenter; moving the meter takes its time on the clock that jumps.
class MovedByHand final : public instrument::Presenter {
 public:
  MovedByHand(simulated::SimulatedDisplay& display, Clock& clock) : display_(display), clock_(clock) {}

  /// As it was left: costs no time.
  Result<void> leave(const Standing& standing) {
    if (auto set = display_.set_controls(standing.controls); !set) return tl::unexpected(set.error());
    placement_ = standing.placement;
    controls_ = standing.controls;
    if (auto placed = display_.place(placement_); !placed) return placed;
    return display_.set_local_dimming(standing.local_dimming);
  }
  Result<void> show(const signal::Signal& signal) override { return display_.show(signal); }
  Result<void> place(const Placement& placement) override {
    if (placement == placement_) return {};
    if (auto placed = display_.place(placement); !placed) return placed;
    placement_ = placement;
    clock_.wait(instrument::kUsualMove);
    return {};
  }
  Result<void> set_local_dimming(LocalDimming mode) override { return display_.set_local_dimming(mode); }
  /// A hand in the menu takes its time.
  Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override {
    auto set = display_.set_controls(wanted);
    if (set && wanted != controls_) clock_.wait(kUsualSetting);
    if (set) controls_ = *set;
    return set;
  }

 private:
  simulated::SimulatedDisplay& display_;
  Clock& clock_;
  Placement placement_;
  instrument::ControlSettings controls_;
};

class SimulatedDevices final : public Devices {
 public:
  SimulatedDevices(simulated::DisplayPhysics physics, const store::InstrumentRecord& record,
                   const signal::Encoding& encoding, const store::LoanRecord& loan,
                   const std::optional<store::ReadingRecord>& last, instrument::ControlSettings left)
      : encoding_(encoding),
        seed_(loan.seed),
        clock_(loan.starts),
        display_(std::move(physics), clock_, {.seed = loan.seed, .powered_on = loan.starts}),
        meter_(simulated_meter_of(record), display_, clock_, meter_seed(record, loan)),
        presenter_(display_, clock_) {
    if (last) clock_.set(meter_.end_of(last->taken, last->measurement.integration));
    (void)presenter_.leave(Standing(last, std::move(left)));  // it stood so before, so it can
  }

  Clock& clock() override { return clock_; }
  instrument::Presenter& presenter() override { return presenter_; }
  instrument::Instrument& instrument() override { return meter_; }
  std::string origin() const override { return "simulated"; }
  std::vector<instrument::DisplayControl> controls() const override { return display_.controls(); }
  std::optional<std::vector<RecordedFile>> record(const procedure::Recording& recording) override {
    auto files = simulated_recording(display_.physics(), encoding_, recording, seed_);
    if (files) clock_.wait(recording.total());
    return files;
  }

 private:
  signal::Encoding encoding_;
  std::uint64_t seed_;
  simulated::SimulatedClock clock_;
  simulated::SimulatedDisplay display_;
  simulated::SimulatedMeter meter_;
  MovedByHand presenter_;
};

/// Writes each signal as a picture before the operator is asked to show it.
class PicturePresenter final : public instrument::Presenter {
 public:
  PicturePresenter(instrument::ManualPresenter& person, std::string folder)
      : operator_(person), folder_(std::move(folder)) {}

  Result<void> show(const signal::Signal& signal) override {
    if (!folder_.empty() && operator_.shown() != signal) {
      const auto path = fmt::format("{}/signal-{}.png", folder_, ++count_);
      if (auto written = signal::write_png16(signal, {}, path); !written) return written;
      operator_.set_picture(path);
    }
    return operator_.show(signal);
  }
  Result<void> place(const Placement& placement) override { return operator_.place(placement); }
  Result<void> set_local_dimming(LocalDimming mode) override { return operator_.set_local_dimming(mode); }
  Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override {
    return operator_.set_controls(wanted);
  }

 private:
  instrument::ManualPresenter& operator_;
  std::string folder_;
  int count_ = 0;
};

/// A screen of this machine shows the signals; the operator is asked for the meter's place and the display's modes.
class ScreenAndPerson final : public instrument::Presenter {
 public:
  ScreenAndPerson(instrument::Presenter& screen, instrument::Presenter& person) : screen_(screen), person_(person) {}

  Result<void> show(const signal::Signal& signal) override { return screen_.show(signal); }
  Result<void> place(const Placement& placement) override { return person_.place(placement); }
  Result<void> set_local_dimming(LocalDimming mode) override { return person_.set_local_dimming(mode); }
  Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override {
    return person_.set_controls(wanted);
  }

 private:
  instrument::Presenter& screen_;
  instrument::Presenter& person_;
};

/// A real display: the operator or a screen of this machine shows the signals. Readings come over a line or are typed
/// in.
class RealDevices final : public Devices {
 public:
  RealDevices(const DeviceOptions& options, const store::InstrumentRecord& record,
              std::unique_ptr<instrument::LineInstrument> line, const Standing& standing)
      : clock_(*options.machine_clock),
        operator_(*options.in, *options.out),
        presenter_(operator_, options.picture_folder),
        typed_(*options.in, *options.out, {.identity = {.name = record.name}, .capabilities = record.capabilities},
               &operator_),
        line_(std::move(line)) {
    if (options.screen != nullptr) on_screen_.emplace(*options.screen, operator_);
    operator_.set_standing(standing.placement, standing.local_dimming, standing.controls);
  }

  Clock& clock() override { return clock_; }
  instrument::Presenter& presenter() override {
    if (on_screen_) return *on_screen_;
    return presenter_;
  }
  instrument::Instrument& instrument() override {
    if (line_) return *line_;
    return typed_;
  }
  std::string origin() const override { return line_ ? "measured" : "typed"; }

 private:
  Clock& clock_;
  instrument::ManualPresenter operator_;
  PicturePresenter presenter_;
  std::optional<ScreenAndPerson> on_screen_;
  instrument::ManualInstrument typed_;
  std::unique_ptr<instrument::LineInstrument> line_;
};

Result<std::unique_ptr<instrument::LineInstrument>> open_line(const store::InstrumentRecord& record) {
  auto description = instrument::read_description(record.details.value("description", ""));
  if (!description) return tl::unexpected(description.error());
  if (const auto address = record.details.value("address", std::string{}); !address.empty())
    if (auto set = instrument::set_address(*description, address); !set) return tl::unexpected(set.error());
  return instrument::LineInstrument::open(std::move(*description));
}

}  // namespace

simulated::MeterModel simulated_meter_of(const store::InstrumentRecord& record) {
  simulated::MeterModel model;
  model.name = record.name;
  model.certificate = record.certificate;
  model.capabilities = record.capabilities;
  model.mismatch = record.details.value("mismatch", 0.0);
  return model;
}

std::uint64_t meter_seed(const store::InstrumentRecord& record, const store::LoanRecord& loan) {
  return record.details.value("seed", loan.seed);
}

Result<std::unique_ptr<Devices>> open_devices(const store::Bench& bench, const store::LoanRecord& loan,
                                              const DeviceOptions& options) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto record = bench.instrument(loan.instrument);
  if (!record) return tl::unexpected(record.error());
  const auto simulated_id = display->details.value("simulated", std::string{});
  if (simulated_id.empty() != (record->kind != "simulated"))
    return fail(ErrorCode::invalid_input,
                simulated_id.empty() ? "the instrument is simulated, but the display is not"
                                     : "the display is simulated, but the instrument is not",
                "Describe both as simulated, or neither.", {.field = "loan " + std::to_string(loan.id)});
  if (!simulated_id.empty() && options.screen != nullptr)
    return fail(ErrorCode::invalid_input, "the display is simulated: it has no screen", "Run without a screen.");
  if (!simulated_id.empty()) {
    auto physics = simulated::built_in_physics(simulated_id);
    if (!physics) return tl::unexpected(physics.error());
    const auto last = last_reading(bench, loan);
    if (!last) return tl::unexpected(last.error());
    auto left = controls_left(bench, loan);
    if (!left) return tl::unexpected(left.error());
    return std::make_unique<SimulatedDevices>(std::move(*physics), *record, display->encoding, loan, *last,
                                              std::move(*left));
  }
  if (record->kind == "import")
    return fail(ErrorCode::unsupported, "the readings of '" + record->name + "' are imported, not taken here",
                "Use `provenit import`, or describe a line or manual instrument.");
  if (options.in == nullptr || options.out == nullptr)
    return fail(ErrorCode::unsupported, "a real display needs an operator to show its signals",
                "Run it at a terminal.");
  std::unique_ptr<instrument::LineInstrument> line;
  if (record->kind == "line") {
    auto opened = open_line(*record);
    if (!opened) return tl::unexpected(opened.error());
    line = std::move(*opened);
  }
  const auto last = last_reading(bench, loan);
  if (!last) return tl::unexpected(last.error());
  auto left = controls_left(bench, loan);
  if (!left) return tl::unexpected(left.error());
  return std::make_unique<RealDevices>(options, *record, std::move(line), Standing(*last, std::move(*left)));
}

}  // namespace provenit::loan
