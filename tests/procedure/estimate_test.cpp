#include "provenit/procedure/estimate.h"

#include <gmock/gmock.h>

#include <cmath>

#include "fake_bench.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::procedure {
namespace {

TEST(IdealLuminance, IsTheEncodingsEotfClippedAtThePeak) {
  const auto grey = [](signal::Encoding encoding, int code, double peak) {
    return ideal_luminance_cdm2({.encoding = encoding, .patch = {{code, code, code}}, .surround = {}, .geometry = {}},
                                peak);
  };
  // SMPTE ST 2084: 10-bit narrow codes 723 and 573 stand for 1004.19 and 203 cd/m2 within a code step.
  EXPECT_NEAR(grey({}, 723, 10000), 1004.19, 0.01);
  EXPECT_NEAR(grey({}, 573, 10000), 203, 2);
  EXPECT_DOUBLE_EQ(grey({}, 940, 1000), 1000);
  EXPECT_EQ(grey({}, 64, 1000), 0);
  // 75 % HLG on a 1000 cd/m2 display: 203.15 cd/m2 (EBU R 167 quoting BT.2408); 10-bit code 721.
  EXPECT_NEAR(grey({.transfer = signal::Transfer::hlg}, 721, 10000), 203.15, 0.5);
  // BT.1886, L_W 100, V = 0.5 (code 502): 100 x 0.5^2.4.
  EXPECT_NEAR(grey({.transfer = signal::Transfer::bt1886, .nominal_peak_cdm2 = 100}, 502, 10000),
              100 * std::pow(0.5, 2.4), 1e-9);
  // Red alone has 26.27 % of white's luminance (Rec. ITU-R BT.2020-2).
  const signal::Signal red{.encoding = {}, .patch = {{723, 64, 64}}, .surround = {}, .geometry = {}};
  EXPECT_NEAR(ideal_luminance_cdm2(red, 10000) / grey({}, 723, 10000), 0.2627, 5e-5);
}

TEST(Estimate, AddsUpRestSettlingAndReadings) {
  // Checkerboard, one pass: reference, black, white, reference. Capabilities' defaults: 0.5 s + 0.1 s at 100 cd/m2.
  Context context;
  const auto got = estimate(*find_procedure("checkerboard"), context, 1);
  ASSERT_TRUE(got);
  const auto& model = context.capabilities.integration;
  const double reference = 2 + model.expected({.cdm2 = 100}).s;
  const double black = 2 + model.expected({.cdm2 = context.expected_black_cdm2}).s;
  const double white = 2 + model.expected({.cdm2 = 1000}).s;
  const double rests = 5 + 5;  // 10 s x half the picture lit, after each phase
  EXPECT_EQ(got->readings, 4);
  EXPECT_NEAR(got->total.s, 2 * reference + black + white + rests, 0.02);
}

TEST(Estimate, AWarmUpCanTakeAsLongAsItsLimit) {
  const auto got = estimate(*find_procedure("warm_up"), {}, 1);
  ASSERT_TRUE(got);
  EXPECT_GT(got->total.s, 600);
  EXPECT_NEAR(got->at_most.s, 3600, 30);
  EXPECT_LT(got->total.s, got->at_most.s);
}

TEST(Estimate, RefusesNoRepeats) {
  const auto got = estimate(*find_procedure("primaries"), {}, 0);
  ASSERT_FALSE(got);
  EXPECT_EQ(got.error().where.field, "repeats");
}

TEST(EstimateRest, ShrinksToNothingAsTheRunGoesOn) {
  FakeBench t;
  const Context context{.parameters = {{"max_repeats", 1}}};
  const auto outcome = t.run("greyscale", context);
  ASSERT_TRUE(outcome);
  const auto readings = t.readings(outcome->run);
  double last = 1e9;
  for (std::size_t k = 0; k <= readings.size(); k += 5) {
    const auto rest = estimate_rest(*find_procedure("greyscale"), context, {readings.data(), k});
    ASSERT_TRUE(rest);
    EXPECT_LT(rest->total.s, last) << k;
    last = rest->total.s;
  }
  const auto rest = estimate_rest(*find_procedure("greyscale"), context, readings);
  EXPECT_EQ(rest->readings, 0);
  EXPECT_EQ(rest->total.s, 0);
}

/// Each procedure's time on a simulated display against what was promised before.
struct Promise {
  std::string display, procedure;
  double peak_cdm2, black_cdm2;
  double closeness;  ///< relative
};

void PrintTo(const Promise& promise, std::ostream* out) {
  *out << promise.procedure << " on " << promise.display;
}

/// Moves the meter in the time that takes.
class MovedByHand final : public instrument::Presenter {
 public:
  MovedByHand(simulated::SimulatedDisplay& display, Clock& clock) : display_(display), clock_(clock) {}
  Result<void> show(const signal::Signal& signal) override { return display_.show(signal); }
  Result<void> place(const instrument::Placement& placement) override {
    if (placement != placement_) clock_.wait(instrument::kUsualMove);
    placement_ = placement;
    return display_.place(placement);
  }

 private:
  simulated::SimulatedDisplay& display_;
  Clock& clock_;
  instrument::Placement placement_;
};

class EstimateAgainstSimulation : public testing::TestWithParam<Promise> {};

TEST_P(EstimateAgainstSimulation, IsKept) {
  const auto& promise = GetParam();
  FakeBench t;  // for its bench file and loan
  simulated::SimulatedClock clock({1'790'000'000});
  auto physics = simulated::built_in_physics(promise.display);
  ASSERT_TRUE(physics);
  // Switched on a minute before warm-up, hours before all else.
  const bool cold = promise.procedure == "warm_up";
  simulated::SimulatedDisplay display(*physics, clock,
                                      {.seed = 3, .powered_on = {clock.now().unix_s - (cold ? 60 : 4 * 3600)}});
  simulated::SimulatedMeter meter({}, display, clock, 4);
  const Context context{.expected_peak_cdm2 = promise.peak_cdm2,
                        .expected_black_cdm2 = promise.black_cdm2,
                        .capabilities = meter.capabilities()};
  const auto& procedure = *find_procedure(promise.procedure);
  Context fixed = context;
  if (procedure.default_parameters().contains("repeats")) {
    fixed.parameters = {{"repeats", 2}, {"max_repeats", 2}};
  }
  const auto promised = estimate(procedure, context, 2);
  ASSERT_TRUE(promised);
  MovedByHand presenter(display, clock);
  const auto outcome = run_procedure({t.bench, meter, presenter, clock}, t.loan, procedure, fixed);
  ASSERT_TRUE(outcome) << outcome.error().text();
  ASSERT_EQ(outcome->ending, Ending::complete);
  RecordProperty("promised_s", std::to_string(promised->total.s));
  RecordProperty("taken_s", std::to_string(outcome->spent.s));
  EXPECT_NEAR(outcome->spent.s / promised->total.s, 1, promise.closeness)
      << outcome->spent.s << " s instead of " << promised->total.s << " s, readings " << outcome->readings
      << " instead of " << promised->readings;
  EXPECT_LE(outcome->spent.s, 1.1 * promised->at_most.s);
}

std::vector<Promise> promises() {
  std::vector<Promise> all;
  for (const auto& procedure : all_procedures()) {
    const std::string id = procedure->id();
    // How long a display needs to warm up is not known before it has. Nor is how much light local dimming leaves in a
    // black square: the estimate takes full-field black, whose readings are the longest.
    const bool lit_black = id == "checkerboard" || id == "halo";
    all.push_back({"tern-32", id, 1400, 0.005, id == "warm_up" ? 0.6 : lit_black ? 0.4 : 0.1});
    // Nor whether a display adds up, without which its whole surface is read: this one's limiter sees to that.
    all.push_back({"curlew-27", id, 900, 0.0002, id == "warm_up" ? 0.6 : id == "colour_volume" ? 6 : 0.1});
  }
  return all;
}

std::string name_of_promise(const testing::TestParamInfo<Promise>& tested) {
  std::string name = tested.param.display + "_" + tested.param.procedure;
  std::ranges::replace(name, '-', '_');
  return name;
}
INSTANTIATE_TEST_SUITE_P(Registered, EstimateAgainstSimulation, testing::ValuesIn(promises()), name_of_promise);

TEST(SignalsOf, NamesEachStepOfARunOnceInItsOrder) {
  for (const auto& procedure : all_procedures()) {
    const auto signals = signals_of(*procedure, Context{});
    ASSERT_TRUE(signals) << procedure->id();
    ASSERT_FALSE(signals->empty()) << procedure->id();
    EXPECT_EQ(signals->front().step, "reference") << procedure->id();
    std::set<std::string> steps;
    for (const auto& s : *signals) {
      EXPECT_TRUE(steps.insert(s.step).second) << procedure->id() << ' ' << s.step;
      EXPECT_TRUE(validate(s.signal)) << s.step;
    }
  }
  const auto board = signals_of(*find_procedure("checkerboard"), Context{}).value();
  ASSERT_EQ(board.size(), 3u);
  EXPECT_EQ(board[1].signal.patch, board[2].signal.surround) << "the two phases";
}

}  // namespace
}  // namespace provenit::procedure
