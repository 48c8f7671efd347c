#include "provenit/procedure/runner.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/instrument/manual.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"
#include "run_parameters_internal.h"
#include "scripted_internal.h"
#include "words_internal.h"

namespace provenit::procedure {
namespace {

constexpr double kSlice = 0.5;       // of waiting, s: how soon a stop request is seen
constexpr double kBrightCdm2 = 100;  // does not stay on while a person sets controls: as reference_cdm2's default
// Above all three, black has risen by more than noise and warming do. Common practice, no source.
constexpr double kRoomLightShare = 0.5, kRoomLightNoise = 6, kRoomLightCdm2 = 0.002;
constexpr int kReestimateEvery = 10;  // readings; in between, the estimate is counted down

enum class Flow { go_on, stop };
/// How one try of a step ended.
enum class Tried { stored, failed, stopped };

const char* kind_of(ErrorCode code) {
  return code == ErrorCode::timeout ? "time_out" : "refused";
}

/// A person at the prompt ended the run; a skipped reading is only a try that gave nothing.
bool stopped_by_operator(const Error& error) {
  return error.code == ErrorCode::cancelled && !instrument::is_skip(error);
}

class Runner {
 public:
  Runner(const Equipment& equipment, const Procedure& procedure, const RunOptions& options)
      : equipment_(equipment), procedure_(procedure), options_(options) {}

  Result<RunOutcome> run(store::Id loan, const Context& context) {
    started_ = equipment_.clock.now();
    if (auto ready = begin_or_resume(loan, context); !ready) return tl::unexpected(ready.error());
    auto ended = steps();
    // On every way out: a bright patch must not stay on a display that nobody watches.
    if (auto black = to_black(); !black) {
      auto told = event("display", "black could not be shown at the end: " + black.error().text());
      if (ended && !told) ended = tl::unexpected(told.error());
      if (ended && outcome_.ending != Ending::paused && !outcome_.cause) outcome_.cause = black.error();
    }
    if (!ended) return tl::unexpected(ended.error());
    if (outcome_.ending == Ending::complete || outcome_.ending == Ending::decided)
      if (auto done = equipment_.bench.end_run(outcome_.run, store::RunState::finished, equipment_.clock.now()); !done)
        return tl::unexpected(done.error());
    outcome_.readings = static_cast<int>(readings_.size());
    outcome_.spent = equipment_.clock.now() - started_;
    return outcome_;
  }

 private:
  Result<void> begin_or_resume(store::Id loan, const Context& wanted) {
    context_ = wanted;
    context_.capabilities = equipment_.instrument.capabilities();
    auto merged = merged_parameters(procedure_, context_);
    if (!merged) return tl::unexpected(merged.error());
    context_.parameters = *merged;
    // A parameter that cannot be used is refused before anything is written.
    if (auto first = procedure_.next(context_, {}); !first) return tl::unexpected(first.error());
    auto open = open_run(loan);
    if (!open) return tl::unexpected(open.error());
    if (*open) return resume(**open);
    auto begun = equipment_.bench.begin_run({.loan = loan,
                                             .procedure = procedure_.id(),
                                             .procedure_version = procedure_.version(),
                                             .parameters = stored_parameters(*merged, context_),
                                             .started = equipment_.clock.now(),
                                             .origin = options_.origin});
    if (!begun) return tl::unexpected(begun.error());
    outcome_.run = *begun;
    return {};
  }

  Result<std::optional<store::RunRecord>> open_run(store::Id loan) {
    if (options_.resume) {
      auto run = equipment_.bench.run(*options_.resume);
      if (!run) return tl::unexpected(run.error());
      const bool same =
          run->loan == loan && run->procedure == procedure_.id() && run->procedure_version == procedure_.version();
      if (!same || run->state != store::RunState::open)
        return fail(ErrorCode::conflict,
                    fmt::format("run {} is {} run of {} version {} of loan {}", run->id,
                                run->state == store::RunState::open ? "an open" : "an ended", run->procedure,
                                run->procedure_version, run->loan),
                    fmt::format("Only an open run of {} version {} of loan {} can be resumed here.", procedure_.id(),
                                procedure_.version(), loan));
      return std::optional{std::move(*run)};
    }
    auto runs = equipment_.bench.runs(loan);
    if (!runs) return tl::unexpected(runs.error());
    const auto wanted = identity_of(stored_parameters(context_.parameters, context_));
    for (auto& run : *runs)
      if (run.state == store::RunState::open && run.procedure == procedure_.id() &&
          run.procedure_version == procedure_.version() && identity_of(run.parameters) == wanted)
        return std::optional{std::move(run)};
    return std::optional<store::RunRecord>{};
  }

  Result<void> resume(const store::RunRecord& run) {
    auto restored = restored_context(run, context_.capabilities);
    if (!restored) return tl::unexpected(restored.error());
    context_ = *restored;
    auto readings = equipment_.bench.readings(run.id);
    if (!readings) return tl::unexpected(readings.error());
    readings_ = std::move(*readings);
    outcome_.run = run.id;
    outcome_.resumed = true;
    return event("resumed", fmt::format("resumed after {} readings", readings_.size()));
  }

  /// Steps until the run ends; sets outcome_.ending. Errors only from bench and procedure.
  Result<void> steps() {
    for (;;) {
      if (stop_requested()) return end(Ending::stopped, "stopped on request");
      auto step = next_step();
      if (!step) return tl::unexpected(step.error());
      if (!*step) {
        outcome_.ending = context_.optional_repeats ? Ending::complete : Ending::decided;
        return {};
      }
      if (options_.budget && (spent() + cost(**step)) > *options_.budget)
        return end(Ending::budget, fmt::format("no time for step '{}' ({} of {} spent)", (*step)->key,
                                               time_text(spent()), time_text(*options_.budget)));
      auto flow = take(**step);
      if (!flow) return tl::unexpected(flow.error());
      if (*flow == Flow::stop) return {};
    }
  }

  /// What to do next, once stop rule and budget have been heard about optional repeats.
  Result<std::optional<Step>> next_step() {
    auto step = procedure_.next(context_, readings_);
    if (!step || !*step || !(*step)->optional_repeat) return step;
    const bool decided = options_.decided && options_.decided(readings_) == Decided::yes;
    bool no_time = false;
    if (!decided && options_.budget) {
      auto fits = fits_budget(**step);
      if (!fits) return tl::unexpected(fits.error());
      no_time = !*fits;
    }
    if (!decided && !no_time) return step;
    context_.optional_repeats = false;
    auto told =
        event(decided ? "decided" : "budget", fmt::format("no further repeats after {} readings: {}", readings_.size(),
                                                          decided ? "the questions are decided" : "the time is spent"));
    if (!told) return tl::unexpected(told.error());
    return procedure_.next(context_, readings_);
  }

  /// Time for this optional repeat and for closing the run after it.
  Result<bool> fits_budget(const Step& step) const {
    Context closing = context_;
    closing.optional_repeats = false;
    auto rest = estimate_rest(procedure_, closing, readings_);
    if (!rest) return tl::unexpected(rest.error());
    return spent() + cost(step) + rest->total <= *options_.budget;
  }

  /// Tries the step until it is stored; pauses the run after the last try. Errors: the bench's.
  Result<Flow> take(const Step& step) {
    for (int attempt = 1;; ++attempt) {
      const auto tried = try_once(step, attempt);
      if (!tried) return tl::unexpected(tried.error());
      if (*tried == Tried::stored) return Flow::go_on;
      if (*tried == Tried::stopped) return stop();
      if (attempt >= options_.attempts) return pause(step);
      // Each try starts afresh from black: whatever went wrong, the next reading is of a settled, freshly shown patch.
      if (auto black = to_black(); !black)
        if (auto told = failed("display", black.error()); !told) return tl::unexpected(told.error());
      if (wait(options_.pause_between_attempts) == Flow::stop) return stop();
    }
  }

  Result<Tried> try_once(const Step& step, int attempt) {
    const auto flow = show(step);
    if (!flow && stopped_by_operator(flow.error())) return Tried::stopped;
    if (!flow) return failed("display", flow.error());
    if (*flow == Flow::stop) return Tried::stopped;
    return measure(step, attempt);
  }

  /// Keeps a failure of the equipment as an event, and as the cause of a pause to come.
  Result<Tried> failed(const char* kind, const Error& error) {
    last_failure_ = error;
    if (auto told = event(kind, error.text()); !told) return tl::unexpected(told.error());
    return Tried::failed;
  }

  /// Rests, shows and settles as the step asks. Errors: the presenter's.
  Result<Flow> show(const Step& step) {
    if (step.rest.s > 0)
      if (auto black = to_black(); !black) return tl::unexpected(black.error());
    if (auto standing = set_up(step); !standing) return tl::unexpected(standing.error());
    if (stop_requested()) return Flow::stop;
    if (step.rest.s > 0) {
      tell(Progress::Phase::resting, step);
      if (wait(step.rest) == Flow::stop) return Flow::stop;
    }
    if (!shown_ || *shown_ != step.signal) {
      if (auto shown = put(step.signal); !shown) return tl::unexpected(shown.error());
      tell(Progress::Phase::settling, step);
      if (wait(step.settle) == Flow::stop) return Flow::stop;
    }
    if (step.stay.s > 0) {
      tell(Progress::Phase::settling, step);
      if (wait(shown_since_ + step.stay - equipment_.clock.now()) == Flow::stop) return Flow::stop;
    }
    if (!readings_.empty() && step.interval.s > 0) {
      tell(Progress::Phase::settling, step);
      const Timestamp due = readings_.back().taken + step.interval;
      if (wait(due - equipment_.clock.now()) == Flow::stop) return Flow::stop;
    }
    return Flow::go_on;
  }

  /// Moves the meter and switches the display's mode where the step asks for another. Errors: the presenter's.
  Result<void> set_up(const Step& step) {
    if (placement_ != step.placement) {
      placement_.reset();
      if (auto placed = equipment_.presenter.place(step.placement); !placed) return placed;
      placement_ = step.placement;
    }
    if (local_dimming_ != step.local_dimming) {
      local_dimming_.reset();
      if (auto set = equipment_.presenter.set_local_dimming(step.local_dimming); !set) return set;
      local_dimming_ = step.local_dimming;
      // The display was in its menu, and what it shows has to settle again.
      shown_.reset();
    }
    return set_controls(step.controls);
  }

  /// Nothing bright stays on while somebody is in the display's menu. Errors: the presenter's.
  Result<void> set_controls(const instrument::ControlSettings& wanted) {
    if (wanted.empty() || wanted == controls_) return {};
    controls_.clear();
    if (shown_ && ideal_luminance_cdm2(*shown_, context_.expected_peak_cdm2) > kBrightCdm2)
      if (auto black = to_black(); !black) return black;
    auto standing = equipment_.presenter.set_controls(wanted);
    if (!standing) return tl::unexpected(standing.error());
    controls_ = std::move(*standing);
    shown_.reset();
    return {};
  }

  /// Reads and stores. Errors: the bench's.
  Result<Tried> measure(const Step& step, int attempt) {
    tell(Progress::Phase::reading, step);
    auto index = equipment_.bench.reading_count();
    if (!index) return tl::unexpected(index.error());
    store::ReadingRecord reading{
        .run = outcome_.run,
        .sequence = static_cast<std::int64_t>(readings_.size()),
        .step = step.key,
        .repeat = static_cast<int>(std::ranges::count(readings_, step.key, &store::ReadingRecord::step)),
        .taken = equipment_.clock.now(),
        .signal = step.signal};
    auto result = equipment_.instrument.measure(*index);
    // What was refused on the way to the result, or instead of one, is kept with the run.
    for (const auto& e : equipment_.instrument.take_events())
      if (auto told = event(e.kind, e.raw.empty() ? e.text : e.text + ": " + e.raw); !told)
        return tl::unexpected(told.error());
    if (!result && stopped_by_operator(result.error())) return Tried::stopped;
    if (!result) return failed(kind_of(result.error().code), result.error());
    if (auto flaw = flaw_of(*result, step)) return failed(result->saturated ? "saturated" : "refused", *flaw);
    reading.measurement = std::move(*result);
    reading.context = {{"settle_s", step.settle.s},
                       {"shown_s", (reading.taken - shown_since_).s},
                       {"attempt", attempt},
                       {"placement", instrument::to_json(step.placement)}};
    if (step.local_dimming != instrument::LocalDimming::as_found)
      reading.context["local_dimming"] = instrument::name_of(step.local_dimming);
    if (!step.controls.empty()) reading.context["controls"] = instrument::to_json(controls_);
    auto id = equipment_.bench.add_reading(reading);
    if (!id) return tl::unexpected(id.error());
    reading.id = *id;
    readings_.push_back(std::move(reading));
    ++outcome_.taken;
    if (auto watched = watch_drift(); !watched) return tl::unexpected(watched.error());
    if (auto watched = watch_room_light(); !watched) return tl::unexpected(watched.error());
    tell(Progress::Phase::stored, step);
    return Tried::stored;
  }

  /// What is wrong with a result that must not become a reading; it is refused while it can still be taken again.
  static std::optional<Error> flaw_of(const instrument::Measurement& measurement, const Step& step) {
    const auto& xyz = measurement.xyz;
    const bool finite = std::isfinite(xyz.X) && std::isfinite(xyz.Y) && std::isfinite(xyz.Z);
    if (finite && !measurement.saturated) return std::nullopt;
    return Error{.code = ErrorCode::instrument,
                 .message = fmt::format("step '{}' read X {} Y {} Z {}{}", step.key, xyz.X, xyz.Y, xyz.Z,
                                        measurement.saturated ? ", saturated" : ""),
                 .advice = measurement.saturated ? "Use a filter or an instrument with a higher range."
                                                 : "Check the instrument.",
                 .where = {}};
  }

  Result<void> watch_drift() {
    const auto& last = readings_.back();
    const auto first = std::ranges::find(readings_, "reference", &store::ReadingRecord::step);
    // Procedures that do not come back to the reference watch the display change: that is their finding and no event.
    const bool watches_drift = !context_.parameters.contains("reference_interval_s");
    if (last.step != "reference" || first->sequence == last.sequence || watches_drift) return {};
    const double before = first->measurement.xyz.Y, now = last.measurement.xyz.Y;
    const double drift = 100 * (now / before - 1);
    if (!(std::abs(drift) > options_.drift_limit_percent)) return {};
    return event("drift", fmt::format("the reference patch reads {:.4g} cd/m2, {:+.2f} % from the {:.4g} cd/m2 at the "
                                      "start of the run (limit {:.4g} %). Let the display warm up, then repeat the run",
                                      now, drift, before, options_.drift_limit_percent));
  }

  /// Black that has become brighter since this run first read it, of the same step: light from elsewhere.
  Result<void> watch_room_light() {
    const auto& last = readings_.back();
    const auto black = signal::black_code(context_.encoding);
    if (last.signal.patch != black || last.signal.surround != black) return {};
    const auto first = std::ranges::find(readings_, last.step, &store::ReadingRecord::step);
    const double before = first->measurement.xyz.Y, now = last.measurement.xyz.Y;
    const double noise = kRoomLightNoise * context_.capabilities.noise_floor_cdm2;
    if (now - before <= std::max({kRoomLightShare * before, noise, kRoomLightCdm2})) return {};
    return event("room_light", fmt::format("black reads {:.3g} cd/m2 where it read {:.3g} cd/m2 earlier in this run: "
                                           "has light come into the room? Shut it out, then repeat the run",
                                           now, before));
  }

  Result<Flow> pause(const Step& step) {
    outcome_.cause = *last_failure_;
    outcome_.cause->message = fmt::format("step '{}' failed {} times, the last time so: {}", step.key,
                                          options_.attempts, last_failure_->message);
    outcome_.cause->advice += fmt::format("{}Then resume run {}: its {} readings are kept.",
                                          outcome_.cause->advice.empty() ? "" : " ", outcome_.run, readings_.size());
    if (auto told = end(Ending::paused, outcome_.cause->text()); !told) return tl::unexpected(told.error());
    return Flow::stop;
  }

  Result<Flow> stop() {
    if (auto told = end(Ending::stopped, "stopped on request"); !told) return tl::unexpected(told.error());
    return Flow::stop;
  }

  Result<void> end(Ending ending, const std::string& text) {
    outcome_.ending = ending;
    return event(name_of(ending), text);
  }

  Result<void> event(const std::string& kind, const std::string& text) {
    auto id =
        equipment_.bench.add_event({.run = outcome_.run, .at = equipment_.clock.now(), .kind = kind, .text = text});
    if (id) ++outcome_.events;
    return id;
  }

  Result<void> put(const signal::Signal& signal) {
    shown_.reset();  // until the presenter says otherwise, nobody knows what is on the display
    if (auto shown = equipment_.presenter.show(signal); !shown) return shown;
    shown_ = signal;
    shown_since_ = equipment_.clock.now();
    return {};
  }

  Result<void> to_black() {
    const auto black = full_field(context_.encoding, signal::black_code(context_.encoding));
    return shown_ == black ? Result<void>{} : put(black);
  }

  Flow wait(Seconds span) {
    for (double left = span.s; left > 0; left -= kSlice) {
      if (stop_requested()) return Flow::stop;
      equipment_.clock.wait({std::min(left, kSlice)});
    }
    return Flow::go_on;
  }

  bool stop_requested() const { return options_.stop_requested && options_.stop_requested(); }
  Seconds spent() const { return equipment_.clock.now() - started_; }

  Seconds cost(const Step& step) const {
    const bool on = shown_ == step.signal && step.rest.s <= 0;
    const Seconds stay = on ? shown_since_ + step.stay - equipment_.clock.now() : step.rest + step.stay;
    const Seconds settle = std::max(on ? Seconds{0} : step.rest + step.settle, stay);
    const Seconds move = placement_ && *placement_ != step.placement ? step.move : Seconds{0};
    Seconds due{0};
    if (!readings_.empty()) due = readings_.back().taken + step.interval - equipment_.clock.now();
    return move + std::max(settle, due) + reading_time(step, context_.capabilities);
  }

  void tell(Progress::Phase phase, const Step& step) {
    if (!options_.progress) return;
    const int done = static_cast<int>(readings_.size());
    if (procedure_.foreseeable() && (!estimated_ || done - estimated_at_ >= kReestimateEvery)) {
      // The parameters have been accepted, so this cannot fail; if it did, the old estimate stays.
      if (auto rest = estimate_rest(procedure_, context_, readings_)) {
        estimated_ = *rest;
        estimated_at_ = done;
        estimated_until_ = equipment_.clock.now() + rest->total;
      }
    }
    Progress progress{.phase = phase, .step = &step, .done = done};
    progress.signal_text = shown_ ? signal::describe(*shown_) : "";
    if (estimated_) progress.expected_total = std::max(done, estimated_at_ + estimated_->readings);
    progress.left = {std::max(0.0, (estimated_until_ - equipment_.clock.now()).s)};
    progress.last = readings_.empty() ? nullptr : &readings_.back();
    options_.progress(progress);
  }

  const Equipment& equipment_;
  const Procedure& procedure_;
  const RunOptions& options_;
  Context context_;
  std::vector<store::ReadingRecord> readings_;
  RunOutcome outcome_;
  Timestamp started_, shown_since_, estimated_until_;
  std::optional<signal::Signal> shown_;
  std::optional<instrument::Placement> placement_;
  std::optional<instrument::LocalDimming> local_dimming_;
  instrument::ControlSettings controls_;  // as they really stand
  std::optional<Estimate> estimated_;
  int estimated_at_ = 0;
  std::optional<Error> last_failure_;
};

}  // namespace

const char* name_of(Progress::Phase phase) {
  switch (phase) {
    case Progress::Phase::resting:
      return "resting";
    case Progress::Phase::settling:
      return "settling";
    case Progress::Phase::reading:
      return "reading";
    case Progress::Phase::stored:
      return "stored";
  }
  return "";
}

const char* name_of(Ending ending) {
  switch (ending) {
    case Ending::complete:
      return "complete";
    case Ending::decided:
      return "decided";
    case Ending::budget:
      return "budget";
    case Ending::stopped:
      return "stopped";
    case Ending::paused:
      return "paused";
  }
  return "";
}

Result<RunOutcome> run_procedure(const Equipment& equipment, store::Id loan, const Procedure& procedure,
                                 const Context& context, const RunOptions& options) {
  return Runner(equipment, procedure, options).run(loan, context);
}

}  // namespace provenit::procedure
