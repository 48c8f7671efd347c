#include <algorithm>

#include "follow_journal.h"
#include "loan_internal.h"
#include "provenit/loan/follow.h"
#include "provenit/loan/loan.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::loan {
namespace {

/// When which signal comes onto the display.
struct Change {
  Timestamp at;
  signal::Signal signal;
};

std::vector<Change> played(const procedure::FollowSchedule& schedule, Timestamp start, double rate_error) {
  std::vector<Change> out;
  std::int64_t at = 0;
  const auto when = [&] { return start + Seconds{schedule.seconds(at).s / (1 + rate_error)}; };
  for (const auto& hold : schedule.holds) {
    if (out.empty() || out.back().signal != hold.signal) out.push_back({when(), hold.signal});
    at += hold.frames;
  }
  signal::Signal black{.encoding = schedule.encoding};
  black.patch = black.surround = signal::black_code(schedule.encoding);
  out.push_back({when(), black});
  return out;
}

}  // namespace

/// A meter before a display that a player feeds: what changes during a reading is in it, in its share.
class SimulatedPlayer::Impl final : public instrument::Instrument {
 public:
  Impl(simulated::DisplayPhysics physics, const store::InstrumentRecord& meter, const store::LoanRecord& loan,
       const instrument::ControlSettings& controls, Timestamp first, Timestamp begins, std::vector<Change> changes)
      : clock_(first),
        display_(std::move(physics), clock_, {.seed = loan.seed, .powered_on = loan.starts}),
        meter_(simulated_meter_of(meter), display_, clock_, meter_seed(meter, loan)),
        changes_(std::move(changes)) {
    (void)display_.set_controls(controls);  // it stood so before, so it can
    clock_.set(begins);
  }

  Result<instrument::Identity> identify() override { return meter_.identify(); }
  const instrument::Capabilities& capabilities() const override { return meter_.capabilities(); }

  Result<instrument::Measurement> measure(std::int64_t index) override {
    const Timestamp from = clock_.now();
    if (auto shown = show_until(from); !shown) return tl::unexpected(shown.error());
    clock_.set(from);
    auto measured = meter_.measure(index);
    const Timestamp done = clock_.now();
    if (!measured) return measured;
    const Timestamp to = from + measured->integration;
    if (next_ < changes_.size() && changes_[next_].at < to) {
      const auto mixed = mixture(from, to);
      if (!mixed) return tl::unexpected(mixed.error());
      measured->xyz = meter_.without_noise(*mixed);
      measured->spectrum.reset();
    }
    clock_.set(done);
    return measured;
  }

  simulated::SimulatedClock& clock() { return clock_; }
  [[nodiscard]] Timestamp ends() const { return changes_.back().at + Seconds{45}; }

 private:
  Result<void> show_until(Timestamp now) {
    for (; next_ < changes_.size() && changes_[next_].at <= now; ++next_) {
      clock_.set(changes_[next_].at);
      if (auto shown = display_.show(changes_[next_].signal); !shown) return shown;
    }
    return {};
  }

  /// Mean light from `from` to `to`, with the changes in between.
  Result<colour::AbsoluteXyz<>> mixture(Timestamp from, Timestamp to) {
    colour::AbsoluteXyz<> sum{};
    for (Timestamp begin = from; begin < to;) {
      const Timestamp end = next_ < changes_.size() ? std::min(to, changes_[next_].at) : to;
      if (const Seconds span = end - begin; span.s > 0) {
        const auto light = display_.mean_light(begin, span);
        const double share = span.s / (to - from).s;
        sum.X += share * light.X, sum.Y += share * light.Y, sum.Z += share * light.Z;
      }
      begin = end;
      if (auto shown = show_until(begin); !shown) return tl::unexpected(shown.error());
    }
    return sum;
  }

  simulated::SimulatedClock clock_;
  simulated::SimulatedDisplay display_;
  simulated::SimulatedMeter meter_;
  std::vector<Change> changes_;
  std::size_t next_ = 0;
};

SimulatedPlayer::SimulatedPlayer(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
SimulatedPlayer::SimulatedPlayer(SimulatedPlayer&&) noexcept = default;
SimulatedPlayer::~SimulatedPlayer() = default;

Result<SimulatedPlayer> SimulatedPlayer::make(const store::Bench& bench, const store::LoanRecord& loan,
                                              const FollowFile& file, const std::string& journal,
                                              const PlayerOptions& options) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto meter = bench.instrument(loan.instrument);
  if (!meter) return tl::unexpected(meter.error());
  const auto id = display->details.value("simulated", std::string{});
  if (id.empty() || meter->kind != "simulated")
    return fail(ErrorCode::invalid_input, "display and instrument are not both simulated",
                "A real clip is played by a real player.", {.field = "loan " + std::to_string(loan.id)});
  auto physics = simulated::built_in_physics(id);
  if (!physics) return tl::unexpected(physics.error());
  const auto entries = FollowJournal::read(journal, file.id, loan.id);
  if (!entries) return tl::unexpected(entries.error());
  auto begins = time_in_loan(bench, loan, loan.starts);
  if (!begins) return tl::unexpected(begins.error());
  const Timestamp first = entries->empty() ? *begins : entries->front().from;
  if (!entries->empty()) begins = entries->back().to;
  auto changes = played(file.schedule, first + options.start_delay, options.rate_error);
  // That playing is over: once more from the start.
  if (*begins > changes.back().at) changes = played(file.schedule, *begins + options.start_delay, options.rate_error);
  const auto controls = controls_left(bench, loan);
  if (!controls) return tl::unexpected(controls.error());
  return SimulatedPlayer(
      std::make_unique<Impl>(std::move(*physics), *meter, loan, *controls, first, *begins, std::move(changes)));
}

FollowSource SimulatedPlayer::source() {
  return {.instrument = *impl_, .clock = impl_->clock(), .origin = "simulated", .ends = impl_->ends()};
}

}  // namespace provenit::loan
