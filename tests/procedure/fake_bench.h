#pragma once
// A display, a meter and a clock that do exactly what a test says, and a bench file in a folder of its own.
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <filesystem>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "provenit/procedure/estimate.h"
#include "provenit/procedure/runner.h"
#include "provenit/store/bench.h"

namespace provenit::procedure {

class FakeClock final : public Clock {
 public:
  Timestamp now() const override { return {static_cast<double>(milliseconds_) / 1000}; }
  void wait(Seconds span) override {
    if (span.s > 0) milliseconds_ += std::llround(span.s * 1000);
  }

 private:
  std::int64_t milliseconds_ = 1'790'000'000'000;
};

/// Shows what it is told; its light is any function of signal and seconds since the clock's start.
class FakeDisplay final : public instrument::Presenter {
 public:
  Result<void> show(const signal::Signal& signal) override {
    if (failures > 0) {
      --failures;
      return fail(ErrorCode::io, "no signal");
    }
    shown.push_back(signal);
    return {};
  }
  const signal::Signal& now() const { return shown.back(); }

  std::vector<signal::Signal> shown;
  int failures = 0;
};

class FakeMeter final : public instrument::Instrument {
 public:
  using Light = std::function<double(const signal::Signal&, Seconds)>;
  FakeMeter(FakeClock& clock, const FakeDisplay& display, Light light)
      : clock_(clock), display_(display), light_(std::move(light)), start_(clock.now()) {}

  Result<instrument::Identity> identify() override { return instrument::Identity{.name = "fake"}; }
  const instrument::Capabilities& capabilities() const override { return capabilities_; }
  Result<instrument::Measurement> measure(std::int64_t index) override {
    indices.push_back(index);
    if (before_measure) before_measure();
    const double luminance = light_(display_.now(), clock_.now() - start_);
    const auto time = capabilities_.integration.expected({.cdm2 = luminance});
    clock_.wait(time);
    if (!faults.empty()) {
      const auto fault = faults.front();
      faults.pop_front();
      if (fault) return fault();
    }
    return instrument::Measurement{.xyz = {.X = 0.9505 * luminance, .Y = luminance, .Z = 1.089 * luminance},
                                   .integration = time - capabilities_.integration.overhead};
  }

  std::vector<instrument::InstrumentEvent> take_events() override { return std::exchange(events, {}); }

  std::vector<instrument::InstrumentEvent> events;  ///< what the next take_events gives
  /// One entry per call to measure: empty = a good reading, otherwise what comes instead.
  std::deque<std::function<Result<instrument::Measurement>()>> faults;
  std::function<void()> before_measure;
  std::vector<std::int64_t> indices;

 private:
  FakeClock& clock_;
  const FakeDisplay& display_;
  Light light_;
  Timestamp start_;
  instrument::Capabilities capabilities_;
};

/// An ideal display that clips at `peak`, with a black of its own.
inline double ideal_light(const signal::Signal& signal, double peak) {
  return std::max(0.004, ideal_luminance_cdm2(signal, peak));
}

class FakeBench {
 public:
  explicit FakeBench(FakeMeter::Light light = [](const auto& s, Seconds) { return ideal_light(s, 1000); })
      : folder_(scratch() / ("provenit_procedure_" + unique_name())),
        bench(make_bench()),
        meter(clock, display, std::move(light)) {
    loan = bench
               .put(store::LoanRecord{.display = bench.put(store::DisplayRecord{.name = "display"}).value(),
                                      .instrument = bench.put(store::InstrumentRecord{.name = "meter"}).value(),
                                      .room = bench.put(store::RoomRecord{.name = "room"}).value(),
                                      .starts = clock.now(),
                                      .ends = clock.now() + Seconds{36000}})
               .value();
  }
  ~FakeBench() { std::filesystem::remove_all(folder_); }
  FakeBench(const FakeBench&) = delete;
  FakeBench& operator=(const FakeBench&) = delete;

  Result<RunOutcome> run(const std::string& procedure, const Context& context = {}, const RunOptions& options = {}) {
    const Equipment equipment{bench, meter, display, clock};
    return run_procedure(equipment, loan, *find_procedure(procedure), context, options);
  }
  std::vector<store::ReadingRecord> readings(store::Id run) { return bench.readings(run).value(); }
  std::vector<std::string> event_kinds(store::Id run) {
    std::vector<std::string> kinds;
    const auto events = bench.events(run).value();
    for (const auto& event : events) kinds.push_back(event.kind);
    return kinds;
  }

 private:
  /// In memory where there is such a place: hundreds of durable writes take their time on a disk.
  static std::filesystem::path scratch() {
    const std::filesystem::path memory = "/dev/shm";
    return access(memory.c_str(), W_OK) == 0 ? memory : std::filesystem::temp_directory_path();
  }
  static std::string unique_name() {
    static int count = 0;
    const auto* test = testing::UnitTest::GetInstance()->current_test_info();
    std::string name = std::string(test->test_suite_name()) + "_" + test->name();
    std::ranges::replace(name, '/', '_');
    return name + "_" + std::to_string(getpid()) + "_" + std::to_string(count++);
  }
  store::Bench make_bench() {
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_);
    return store::Bench::create((folder_ / "test.bench").string(), "test", "nobody", clock.now()).value();
  }
  std::filesystem::path folder_;

 public:
  FakeClock clock;
  FakeDisplay display;
  store::Bench bench;
  FakeMeter meter;
  store::Id loan = 0;
};

}  // namespace provenit::procedure
