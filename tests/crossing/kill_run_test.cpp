// kill -9 in the middle of real runs: procedures on a simulated display and meter, killed at 200 random moments.
// Nothing but the reading in flight is lost, and the resumed run ends with the very readings of one that was never
// disturbed.
#include <gtest/gtest.h>
#include <unistd.h>

#include <bit>
#include <chrono>
#include <filesystem>
#include <functional>
#include <random>
#include <set>

#include "kill_child.h"
#include "provenit/procedure/runner.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"
#include "provenit/store/bench.h"

namespace provenit {
namespace {

constexpr Timestamp loan_starts{1795597200};
constexpr std::uint64_t seed = 7;

struct Job {
  int moments;  ///< how often it is killed
  const char* procedure;
  nlohmann::json parameters = nlohmann::json::object();
};
/// Every reading of these follows a freshly shown signal, so a resumed run is as one that was not disturbed.
const Job repeatable[] = {
    {60, "primaries", {{"repeats", 3}, {"max_repeats", 3}}},  // short: many kills while it sets up
    {60, "window_peak", {{"repeats", 2}, {"max_repeats", 2}}},
    {60, "checkerboard"},
    {20, "greyscale"}};
/// These stay on one signal for several readings. A resumed run shows it afresh and lets it settle again, so its later
/// readings are a little later, of a display that has drifted on.
const Job time_matters[] = {{10, "white_point"}, {10, "black_level"}, {10, "warm_up"}};

/// One sitting of the loan's run: begins it, or goes on where the bench says it is; tells each reading that is stored.
/// What a reading gives depends on the time it is taken at, so the clock goes on from the end of the last one.
Result<procedure::RunOutcome> sit(const std::string& path, const Job& job, int acknowledge) {
  auto bench = store::Bench::open(path);
  if (!bench) return tl::unexpected(bench.error());
  const auto physics = simulated::built_in_physics("tern-32");
  if (!physics) return tl::unexpected(physics.error());
  simulated::SimulatedClock clock(loan_starts);
  simulated::SimulatedDisplay display(*physics, clock, {.seed = seed, .powered_on = loan_starts});
  simulated::SimulatedMeter meter({}, display, clock, seed);
  const auto runs = bench->runs(1);
  if (!runs) return tl::unexpected(runs.error());
  if (!runs->empty()) {
    const auto readings = bench->readings(runs->back().id);
    if (!readings) return tl::unexpected(readings.error());
    if (!readings->empty()) clock.set(meter.end_of(readings->back().taken, readings->back().measurement.integration));
  }
  procedure::RunOptions options{.origin = "simulated"};
  options.progress = [&](const procedure::Progress& p) {
    if (acknowledge < 0 || p.phase != procedure::Progress::Phase::stored) return;
    const std::int64_t sequence = p.last->sequence;
    if (::write(acknowledge, &sequence, sizeof sequence) != sizeof sequence) ::_exit(9);
  };
  return procedure::run_procedure({*bench, meter, display, clock}, 1, *procedure::find_procedure(job.procedure),
                                  {.parameters = job.parameters}, options);
}

void expect_same(const store::ReadingRecord& a, const store::ReadingRecord& b) {
  const auto bits = [](double v) { return std::bit_cast<std::uint64_t>(v); };
  ASSERT_EQ(a.sequence, b.sequence);
  ASSERT_EQ(a.step, b.step);
  ASSERT_EQ(a.repeat, b.repeat);
  ASSERT_TRUE(a.signal == b.signal);
  ASSERT_EQ(bits(a.taken.unix_s), bits(b.taken.unix_s)) << a.sequence;
  ASSERT_EQ(bits(a.measurement.xyz.X), bits(b.measurement.xyz.X)) << a.sequence;
  ASSERT_EQ(bits(a.measurement.xyz.Y), bits(b.measurement.xyz.Y)) << a.sequence;
  ASSERT_EQ(bits(a.measurement.xyz.Z), bits(b.measurement.xyz.Z)) << a.sequence;
  ASSERT_EQ(bits(a.measurement.integration.s), bits(b.measurement.integration.s));
  ASSERT_EQ(a.context, b.context);
}

class KillRun : public testing::Test {
 protected:
  KillRun() {
    const std::filesystem::path memory = "/dev/shm";
    const bool usable = ::access(memory.c_str(), W_OK) == 0;
    auto name = ((usable ? memory : std::filesystem::temp_directory_path()) / "provenit_kill_XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder");
    folder_ = name;
    auto bench = store::Bench::create(fresh(), "Kill", "Test", loan_starts).value();
    bench
        .put(store::LoanRecord{.display = bench.put(store::DisplayRecord{.name = "Tern 32"}).value(),
                               .instrument = bench.put(store::InstrumentRecord{.name = "meter"}).value(),
                               .room = bench.put(store::RoomRecord{.name = "room"}).value(),
                               .starts = loan_starts,
                               .ends = loan_starts + Seconds{36000},
                               .seed = seed})
        .value();
  }
  ~KillRun() override { std::filesystem::remove_all(folder_); }
  [[nodiscard]] std::string fresh() const { return folder_ / "fresh.bench"; }
  [[nodiscard]] std::string path() const { return folder_ / "killed.bench"; }
  void start_afresh() const {
    for (const char* suffix : {"", "-wal", "-shm"}) std::filesystem::remove(path() + suffix);
    std::filesystem::copy_file(fresh(), path());
  }
  [[nodiscard]] std::vector<store::ReadingRecord> undisturbed(const Job& job) const {
    start_afresh();
    const auto outcome = sit(path(), job, -1).value();
    EXPECT_EQ(outcome.ending, procedure::Ending::complete) << job.procedure;
    return store::Bench::open(path()).value().readings(outcome.run).value();
  }
  /// What the bench holds after the kill; checks it against what was told and against the undisturbed run.
  void check_what_is_left(std::int64_t last, const std::vector<store::ReadingRecord>& whole) {
    const auto bench = store::Bench::open(path());
    ASSERT_TRUE(bench) << bench.error().text();
    const auto sound = bench->verify_readings();
    ASSERT_TRUE(sound) << sound.error().text();
    const auto runs = bench->runs(1).value();
    ASSERT_LE(runs.size(), 1u);
    std::vector<store::ReadingRecord> kept;
    if (!runs.empty()) kept = bench->readings(runs[0].id).value();
    const auto told = static_cast<std::size_t>(last + 1);
    ASSERT_GE(kept.size(), told) << "a stored reading is lost";
    ASSERT_LE(kept.size(), told + 1);
    ASSERT_LE(kept.size(), whole.size());
    for (std::size_t i = 0; i < kept.size(); ++i) expect_same(kept[i], whole[i]);
    cut_short_ += kept.size() < whole.size();
  }
  /// Sits again unless the run had ended; the readings of the whole run.
  [[nodiscard]] std::vector<store::ReadingRecord> resume(const Job& job) const {
    const auto state = [&] {
      const auto runs = store::Bench::open(path()).value().runs(1).value();
      return runs.empty() ? store::RunState::open : runs[0].state;
    };
    if (state() == store::RunState::open) {
      const auto outcome = sit(path(), job, -1).value();
      EXPECT_EQ(outcome.ending, procedure::Ending::complete);
    }
    EXPECT_EQ(state(), store::RunState::finished);
    const auto bench = store::Bench::open(path()).value();
    EXPECT_TRUE(bench.verify_readings());
    return bench.readings(1).value();
  }
  /// Kills runs of the job; `check` gets the undisturbed and the resumed run's readings.
  void kill_and_resume(const Job& job,
                       const std::function<void(const std::vector<store::ReadingRecord>& whole,
                                                const std::vector<store::ReadingRecord>& resumed)>& check) {
    const auto whole = undisturbed(job);
    // A kill that comes when the run is over (the machine was busy with something else) is checked, but does not count.
    const int wanted = cut_short_ + job.moments;
    for (int moment = 0; cut_short_ < wanted && moment < 20 * job.moments && !HasFailure(); ++moment) {
      SCOPED_TRACE(std::string(job.procedure) + ", moment " + std::to_string(moment));
      start_afresh();
      // After a random number of readings (0: while it still sets up), plus a random part of a few readings' time.
      const int after = static_cast<int>(random_() % (whole.size() + 1));
      const std::chrono::microseconds delay(random_() % (after == 0 ? 20000 : 1500));
      const auto last =
          run_and_kill([&](int acknowledge) { return sit(path(), job, acknowledge) ? 0 : 1; }, after, delay);
      check_what_is_left(last, whole);
      if (HasFailure()) return;
      check(whole, resume(job));
    }
  }

  std::mt19937_64 random_{20261125};
  std::filesystem::path folder_;
  int cut_short_ = 0;
};

TEST_F(KillRun, ResumesToTheVeryReadingsOfAnUndisturbedRun) {
  for (const auto& job : repeatable)
    kill_and_resume(job, [](const auto& whole, const auto& resumed) {
      ASSERT_EQ(resumed.size(), whole.size());
      for (std::size_t i = 0; i < whole.size(); ++i) expect_same(resumed[i], whole[i]);
    });
  EXPECT_EQ(cut_short_, 200);
}

TEST_F(KillRun, ResumesToItsEndWhereTimeMatters) {
  for (const auto& job : time_matters)
    kill_and_resume(job, [](const auto& whole, const auto& resumed) {
      std::set<std::string> wanted, got;
      for (const auto& reading : whole) wanted.insert(reading.step);
      for (const auto& reading : resumed) got.insert(reading.step);
      EXPECT_EQ(got, wanted);
      for (std::size_t i = 1; i < resumed.size(); ++i) EXPECT_GT(resumed[i].taken, resumed[i - 1].taken);
    });
  EXPECT_EQ(cut_short_, 30);
}

}  // namespace
}  // namespace provenit
