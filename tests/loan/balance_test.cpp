// White balance of a loan's display: on units of both demo displays, broken off and gone on with, by a person.
#include "provenit/loan/balance.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <sstream>
#include <streambuf>

#include "provenit/colour/difference.h"
#include "provenit/colour/spaces.h"
#include "provenit/loan/loan.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::loan {
namespace {

using correct::BalanceVerdict;
using testing::HasSubstr;

constexpr Timestamp kStart{1.8e9};

/// A unit of a demo display, turned by a hand that may slip.
class Unit final : public Devices, public instrument::Presenter {
 public:
  Unit(simulated::DisplayPhysics physics, std::uint64_t seed, double slip = 0)
      : clock_(kStart),
        display_(std::move(physics), clock_, {.seed = seed, .powered_on = kStart + Seconds{-7200}}),
        meter_({}, display_, clock_, seed),
        slip_(slip) {}
  Clock& clock() override { return clock_; }
  instrument::Presenter& presenter() override { return *this; }
  instrument::Instrument& instrument() override { return meter_; }
  std::string origin() const override { return "simulated"; }
  std::vector<instrument::DisplayControl> controls() const override { return display_.controls(); }

  Result<void> show(const signal::Signal& signal) override { return display_.show(signal); }
  Result<void> place(const instrument::Placement&) override { return {}; }
  Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override {
    auto set = wanted;
    if (++turned_ % 3 == 0) set[0].value += slip_;
    return display_.set_controls(set);
  }
  [[nodiscard]] const simulated::SimulatedDisplay& display() const { return display_; }

 private:
  simulated::SimulatedClock clock_;
  simulated::SimulatedDisplay display_;
  simulated::SimulatedMeter meter_;
  double slip_;
  int turned_ = 0;
};

/// Somebody at a prompt, before a display that the bench takes for a real one: shows, sets, reads off and types.
class Person final : public std::streambuf {
 public:
  Person(std::ostringstream& prompts, std::vector<signal::Signal> signals)
      : prompts_(prompts),
        signals_(std::move(signals)),
        display_(simulated::vary(simulated::built_in_physics("tern-32").value(), 9), clock_,
                 {.seed = 9, .powered_on = kStart + Seconds{-7200}}) {}
  simulated::SimulatedClock& clock() { return clock_; }
  [[nodiscard]] const simulated::SimulatedDisplay& display() const { return display_; }

 protected:
  int underflow() override {
    const std::string asked = prompts_.str().substr(seen_);
    seen_ = prompts_.str().size();
    answer_ = answer(asked) + "\n";
    setg(answer_.data(), answer_.data(), answer_.data() + answer_.size());
    return answer_[0];
  }

 private:
  std::string answer(const std::string& asked) {
    if (asked.find("Show it") != std::string::npos) {
      const auto named = [&](const auto& s) { return asked.find(signal::describe(s)) != std::string::npos; };
      const auto wanted = std::ranges::find_if(signals_, named);
      EXPECT_TRUE(wanted != signals_.end() && display_.show(*wanted)) << asked;
    }
    if (asked.find("Set the display's controls") != std::string::npos) {
      std::istringstream lines(asked);
      for (std::string line; std::getline(lines, line);) {
        const auto colon = line.rfind(": ");
        if (!line.starts_with("  ") || colon == std::string::npos) continue;
        EXPECT_TRUE(display_.set_controls({{line.substr(2, colon - 2), std::stod(line.substr(colon + 2))}})) << line;
      }
    }
    if (asked.find("Reading ") == std::string::npos) return "";
    if (asked.find("Enter keeps it") != std::string::npos) return "";
    clock_.wait({5});
    const auto light = display_.light(clock_.now());
    const auto xy = colour::xy_from_xyz(light);
    std::array<char, 64> typed{};
    std::snprintf(typed.data(), typed.size(), "%.4g %.4f %.4f", light.Y, xy.x, xy.y);
    return typed.data();
  }

  std::ostringstream& prompts_;
  std::vector<signal::Signal> signals_;
  simulated::SimulatedClock clock_{kStart};
  simulated::SimulatedDisplay display_;
  std::string answer_;
  std::size_t seen_ = 0;
};

class Balance : public testing::Test {
 protected:
  Balance() {
    auto name = (std::filesystem::temp_directory_path() / "provenit_balance_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) std::abort();
    folder_ = name;
  }
  ~Balance() override { std::filesystem::remove_all(folder_); }

  store::Bench bench(const std::string& name) const {
    return store::Bench::create(folder_ + "/" + name, "test", "nobody", kStart).value();
  }
  static store::LoanRecord loan_of(store::Bench& bench, const char* simulated) {
    const store::DisplayRecord display{.name = "unit",
                                       .details = {{"simulated", simulated}, {"claimed_peak_cdm2", 900}}};
    store::LoanRecord loan{
        .display = bench.put(display).value(),
        .instrument = bench.put(store::InstrumentRecord{.name = "meter", .kind = "simulated"}).value(),
        .room = bench.put(store::RoomRecord{.name = "room"}).value(),
        .starts = kStart,
        .ends = kStart + Seconds{86400},
        .seed = 7};
    loan.id = bench.put(loan).value();
    return loan;
  }
  /// Delta u'v' from D65 that the display truly has where its levels were read.
  static double truth(const Unit& unit, store::Bench& bench, const BalanceResult& r) {
    double worst = 0;
    const auto readings = bench.readings(r.run.run).value();
    for (const auto& reading : readings) {
      const auto light = unit.display().truth(reading.signal, reading.taken);
      worst = std::max(
          worst, colour::delta_uv_prime(colour::uv_prime_from_xyz(light), colour::uv_prime_from_xy(colour::d65_video)));
    }
    return worst;
  }
  std::string folder_;
};

TEST_F(Balance, UnitsOfBothDisplaysEndWithinTolerance) {
  int readings = 0, within = 0;
  for (const char* id : {"tern-32", "curlew-27"})
    for (std::uint64_t seed = 1; seed <= 5; ++seed) {
      auto b = bench(std::string(id) + std::to_string(seed));
      const auto loan = loan_of(b, id);
      Unit unit(simulated::vary(simulated::built_in_physics(id).value(), seed), seed);
      const auto r = balance(b, loan, {}, unit);
      ASSERT_TRUE(r) << r.error().text();
      ASSERT_TRUE(r->outcome) << id << seed;
      ASSERT_EQ(r->levels.size(), 2u);
      // The instrument's own error of x and y is in the interval, and not in what can be balanced away.
      if (r->outcome->verdict == BalanceVerdict::within) {
        ++within;
        EXPECT_LT(truth(unit, b, *r), 0.002) << id << seed;
      }
      readings += r->outcome->readings;
      EXPECT_EQ(b.runs(loan.id).value().back().state, store::RunState::finished);
      EXPECT_EQ(b.readings(r->run.run)->size(), static_cast<std::size_t>(r->outcome->readings));
      std::printf("%s %d: %s, %d settings, %d readings, Delta u'v' %.4f to %.4f\n", id, static_cast<int>(seed),
                  name_of(r->outcome->verdict), r->outcome->visits, r->outcome->readings,
                  std::max(r->outcome->before[0].uv.value, r->outcome->before[1].uv.value),
                  std::max(r->outcome->after[0].uv.value, r->outcome->after[1].uv.value));
    }
  EXPECT_GE(within, 8);
}

TEST_F(Balance, NPointLevelsAndLuminanceAreHeldTogether) {
  auto b = bench("n");
  const auto loan = loan_of(b, "curlew-27");
  Unit unit(simulated::vary(simulated::built_in_physics("curlew-27").value(), 2), 2);
  const auto r = balance(b, loan,
                         {.levels_percent = {25, 40, 55},
                          .luminance = true,
                          .tolerance = {.uv = 0.002, .luminance_relative = 0.08, .itp = {}}},
                         unit);
  ASSERT_TRUE(r) << r.error().text();
  ASSERT_TRUE(r->outcome);
  for (const auto& f : r->outcome->after) {
    ASSERT_TRUE(f.luminance);
    EXPECT_LE(f.ratio, 1.2);
  }
}

TEST_F(Balance, BrokenOffItGoesOnWithTheVeryReadingsOfOneThatWasNot) {
  const auto play = [&](store::Bench& b, const store::LoanRecord& loan, int most) {
    const auto devices = open_devices(b, loan, {}).value();
    int taken = 0;
    return balance(b, loan, {.tolerance = {.uv = 0.0015, .luminance_relative = 0.05, .itp = {}}}, *devices,
                   {.progress = [&](const auto& p) { taken += p.phase == procedure::Progress::Phase::stored ? 1 : 0; },
                    .stop_requested = [&] { return taken >= most; }});
  };
  auto whole = bench("whole"), broken = bench("broken");
  const auto loan = loan_of(whole, "tern-32"), same = loan_of(broken, "tern-32");
  const auto first = play(whole, loan, 1000);
  ASSERT_TRUE(first) << first.error().text();
  ASSERT_TRUE(first->outcome);
  const auto parts = [&] {
    for (int i = 0; i < 200; ++i)
      if (auto r = play(broken, same, 3); !r || r->outcome) return r;
    return play(broken, same, 3);
  }();
  ASSERT_TRUE(parts) << parts.error().text();
  ASSERT_TRUE(parts->outcome);
  EXPECT_TRUE(parts->run.resumed);
  EXPECT_EQ(parts->outcome->settings, first->outcome->settings);
  const auto a = whole.readings(first->run.run).value(), c = broken.readings(parts->run.run).value();
  ASSERT_EQ(a.size(), c.size());
  bool shifted = false;
  for (std::size_t i = 0; i < a.size(); ++i) {
    EXPECT_EQ(a[i].step, c[i].step);
    EXPECT_EQ(a[i].context["controls"], c[i].context["controls"]);
    // A repeat stays on its signal; gone on with, that is shown again, and all is a little later from there.
    shifted = shifted || a[i].repeat > 0;
    if (shifted) {
      EXPECT_NEAR(a[i].measurement.xyz.X, c[i].measurement.xyz.X, 0.005 * a[i].measurement.xyz.X) << i;
      continue;
    }
    EXPECT_EQ(a[i].taken.unix_s, c[i].taken.unix_s) << i;
    EXPECT_EQ(a[i].measurement.xyz.X, c[i].measurement.xyz.X) << i;
  }
}

TEST_F(Balance, TheDisplayStaysAsItWasLeftInLaterRuns) {
  auto b = bench("left");
  const auto loan = loan_of(b, "tern-32");
  const auto devices = open_devices(b, loan, {}).value();
  const auto r = balance(b, loan, {.tolerance = {.uv = 0.0016, .luminance_relative = 0.05, .itp = {}}}, *devices);
  ASSERT_TRUE(r && r->outcome);
  const auto later = open_devices(b, loan, {}).value();
  const auto controls = later->controls();
  for (std::size_t j = 0; j < controls.size(); ++j) EXPECT_EQ(controls[j].value, r->outcome->settings[j]);
  const auto evaluated = evaluate(b, loan, kStart, "test");
  ASSERT_TRUE(evaluated) << evaluated.error().text();
  EXPECT_TRUE(evaluated->findings.empty());
  ASSERT_TRUE(contents_of(b, loan, kStart, "test"));
}

TEST_F(Balance, AHandThatSlipsIsBelieved) {
  auto b = bench("slip");
  const auto loan = loan_of(b, "tern-32");
  Unit unit(simulated::vary(simulated::built_in_physics("tern-32").value(), 3), 3, 2);
  const auto r = balance(b, loan, {}, unit);
  ASSERT_TRUE(r) << r.error().text();
  ASSERT_TRUE(r->outcome);
  EXPECT_EQ(r->outcome->settings[0], unit.controls()[0].value);
}

TEST_F(Balance, APersonShowsSetsAndTypesUntilTheWhiteIsRight) {
  auto b = bench("person");
  const store::DisplayRecord display{.name = "real", .details = nlohmann::json::object()};
  store::LoanRecord loan{.display = b.put(display).value(),
                         .instrument = b.put(store::InstrumentRecord{.name = "meter", .kind = "manual"}).value(),
                         .room = b.put(store::RoomRecord{.name = "room"}).value(),
                         .starts = kStart,
                         .ends = kStart + Seconds{86400}};
  loan.id = b.put(loan).value();
  const auto grey = [&](double percent) {
    return signal::Signal{.encoding = display.encoding,
                          .patch = signal::grey_code(display.encoding, colour::Signal<>{.value = percent / 100}),
                          .surround = signal::black_code(display.encoding),
                          .geometry = {.shape = signal::Shape::window, .area_fraction = 0.1}};
  };
  auto black = grey(0);
  black.geometry = {};
  std::ostringstream prompts;
  Person person(prompts, {grey(30), grey(62), black});
  std::istream in(&person);
  const auto devices = open_devices(b, loan, {.machine_clock = &person.clock(), .in = &in, .out = &prompts}).value();
  BalanceRequest request{.levels_percent = {30, 62}};
  for (const auto& c : person.display().controls()) {
    request.controls.push_back({c.name, c.lowest, c.highest, c.step});
    request.start.push_back(c.value);
  }
  const auto r = balance(b, loan, request, *devices);
  ASSERT_TRUE(r) << r.error().text();
  ASSERT_TRUE(r->outcome) << prompts.str();
  EXPECT_EQ(r->outcome->verdict, BalanceVerdict::within);
  EXPECT_EQ(b.run(r->run.run)->origin, "typed");
  for (std::size_t j = 0; j < request.controls.size(); ++j)
    EXPECT_EQ(person.display().controls()[j].value, r->outcome->settings[j]);
}

TEST_F(Balance, OtherOptionsForAnOpenRunAreRefusedUntilItIsBegunAnew) {
  auto b = bench("other");
  const auto loan = loan_of(b, "tern-32");
  const auto devices = open_devices(b, loan, {}).value();
  const BalanceHooks stop{.progress = {}, .stop_requested = [] { return true; }};
  ASSERT_TRUE(balance(b, loan, {}, *devices, stop));
  const auto refused = balance(b, loan, {.levels_percent = {30}}, *devices, stop);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::conflict);
  EXPECT_THAT(refused.error().text(), HasSubstr("levels_percent"));
  const auto anew = balance(b, loan, {.levels_percent = {30}, .again = true}, *devices, stop);
  ASSERT_TRUE(anew) << anew.error().text();
  EXPECT_EQ(b.runs(loan.id)->front().state, store::RunState::aborted);
}

TEST_F(Balance, ControlsThatNobodyNamedAreAskedFor) {
  auto b = bench("none");
  const auto loan = loan_of(b, "fluoride-check");
  const auto devices = open_devices(b, loan, {}).value();
  const auto refused = balance(b, loan, {}, *devices);
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().text(), HasSubstr("--control"));
}

}  // namespace
}  // namespace provenit::loan
