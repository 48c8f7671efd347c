// The model, the choice of patches and the tables solved from it, on a simulated display whose physics they do not
// share (benchmarks/measured_display.h). The figures over several units are those of benchmarks/correction.cpp.
#include "provenit/correct/display_model.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <limits>

#include "measured_display.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/correct/patch_choice.h"

namespace provenit::correct {
namespace {

using bench::MeasuredDisplay;
using testing::HasSubstr;

/// Read once, for all tests: about three minutes of measuring.
const MeasuredDisplay& display() {
  static const MeasuredDisplay read = [] {
    MeasuredDisplay d("tern-32", 4);
    d.read_chosen(3.2, colour::p3_d65_primaries);
    return d;
  }();
  return read;
}
const DisplayModel& fitted() {
  static const DisplayModel model = DisplayModel::fit(MeasuredDisplay::encoding(), display().readings()).value();
  return model;
}
std::vector<colour::SignalRgb<>> unseen(int count) {
  return target_signals(MeasuredDisplay::encoding(), colour::p3_d65_primaries, {.cdm2 = 1200}, count, 700000);
}

TEST(DisplayModel, PredictsColoursItHasNotSeen) {
  double sum = 0, squares = 0;
  const auto colours = unseen(60);
  for (const auto& e : colours) {
    const auto code = MeasuredDisplay::shown(e);
    const auto signal = signal::signal_of(code.encoding, code.patch);
    const auto p = fitted().predict(signal);
    const double error = colour::itp_difference(display().truth(signal), p.light).total;
    sum += error / 60;
    squares += error * error / (p.delta_e_itp * p.delta_e_itp) / 60;
    EXPECT_TRUE(p.known);
  }
  EXPECT_LT(sum, 0.7);
  // As sure as it says, within what sixty colours of one display can tell.
  EXPECT_GT(squares, 0.2);
  EXPECT_LT(squares, 4);
}

TEST(DisplayModel, ReportsWhatItLeaves) {
  const auto& r = fitted().report();
  const auto patches = std::ranges::count(display().readings(), false, &ModelReading::reference);
  EXPECT_EQ(static_cast<std::ptrdiff_t>(r.residuals.size()), patches);
  EXPECT_GT(r.mean_held_out, 0);
  EXPECT_LT(r.mean_held_out, 1.5);
  EXPECT_GE(r.percentile_95_held_out, r.mean_held_out);
  EXPECT_GE(r.tried.size(), 5u);
  EXPECT_TRUE(r.terms.leakage) << "a dimmed backlight leaks by what the picture asks for";
  const auto least = std::ranges::min_element(r.tried, {}, [](const auto& t) { return t.second; });
  ModelTerms chosen = r.terms;
  chosen.residual_field = false;
  EXPECT_EQ(least->first, chosen);
}

TEST(DisplayModel, KnowsNothingWhereNothingWasRead) {
  std::vector<ModelReading> greys_and_primaries;
  for (const auto& r : display().readings()) {
    const double low = std::min({r.signal.r, r.signal.g, r.signal.b}),
                 high = std::max({r.signal.r, r.signal.g, r.signal.b});
    if (high - low < 1e-9 || low < 0.01) greys_and_primaries.push_back(r);
  }
  ASSERT_GE(greys_and_primaries.size(), static_cast<std::size_t>(kFewestPatches));
  const auto few = DisplayModel::fit(MeasuredDisplay::encoding(), greys_and_primaries, {.diagnose = false});
  ASSERT_TRUE(few) << few.error().text();
  double with_all = 0, with_few = 0;
  for (const auto& e : unseen(40)) {
    with_all += fitted().predict(e).delta_e_itp;
    with_few += few->predict(e).delta_e_itp;
  }
  EXPECT_GT(with_few, 1.2 * with_all);
}

TEST(DisplayModel, TheSignalForALightGivesThatLight) {
  int reached = 0;
  for (const auto& e : unseen(100)) {
    const auto light = fitted().light(e);
    const auto back = fitted().signal_for(light);
    if (back.delta_e_itp > 0.05) continue;  // at the end of a channel many signals give one light
    ++reached;
    EXPECT_LT(colour::itp_difference(light, fitted().light(back.signal)).total, 0.051);
  }
  EXPECT_GE(reached, 95);
}

// Bad input ----------------------------------------------------------------------------------------------------------

std::string refusal(const std::vector<ModelReading>& readings) {
  const auto model = DisplayModel::fit(MeasuredDisplay::encoding(), readings, {.diagnose = false});
  return model ? "" : model.error().text();
}

TEST(DisplayModel, RefusesWhatCannotBeFitted) {
  const auto& good = display().readings();
  auto readings = good;
  readings[7].light.Y = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT(refusal(readings), HasSubstr("reading 8"));

  EXPECT_THAT(refusal({good.begin(), good.begin() + 20}), HasSubstr("needs at least 24"));

  readings = good;
  for (auto& r : readings) std::swap(r.signal.r, r.signal.b);
  EXPECT_THAT(refusal(readings), HasSubstr("channels are swapped"));

  readings = good;
  for (auto& r : readings) {
    if (r.reference) continue;
    const double limit = 60 / std::max(r.light.Y, 60.0);  // an instrument that reads no more than 60 cd/m2
    r.light = {.X = limit * r.light.X, .Y = limit * r.light.Y, .Z = limit * r.light.Z};
  }
  EXPECT_NE(refusal(readings), "");

  readings = good;
  const auto scale = [](ModelReading& r, double k) {
    r.light = {.X = k * r.light.X, .Y = k * r.light.Y, .Z = k * r.light.Z};
  };
  for (auto& r : readings) scale(r, 1 + 0.1 * r.time_s / readings.back().time_s);
  EXPECT_THAT(refusal(readings), HasSubstr("changed more than"));

  readings = good;
  for (std::size_t i = readings.size() / 2; i < readings.size(); ++i) scale(readings[i], 0.95);
  EXPECT_THAT(refusal(readings), HasSubstr("jumped by"));

  readings = good;
  const auto patch = std::ranges::find_if(readings, [](const auto& r) { return !r.reference && r.light.Y > 30; });
  scale(*patch, 0.7);
  EXPECT_THAT(refusal(readings), HasSubstr(patch->name));
}

// Choice of patches --------------------------------------------------------------------------------------------------

TEST(PatchChoice, LowersTheExpectedErrorAndCountsTime) {
  const auto candidates = unseen(60);
  const auto targets = target_signals(MeasuredDisplay::encoding(), colour::p3_d65_primaries, {.cdm2 = 1200}, 40);
  const auto cost = [](const auto& light) { return display().cost(light); };
  const auto chosen = next_patches(fitted(), candidates, targets, cost, 12);
  ASSERT_EQ(chosen.size(), 12u);
  for (std::size_t i = 1; i < chosen.size(); ++i)
    EXPECT_LE(chosen[i].expected_delta_e_itp, chosen[i - 1].expected_delta_e_itp);
  const auto again = next_patches(fitted(), candidates, targets, cost, 12);
  for (std::size_t i = 0; i < chosen.size(); ++i) EXPECT_EQ(chosen[i].signal.r, again[i].signal.r);

  // Were dark patches a thousand times as dear, none would be chosen.
  const auto dear = [&](const colour::AbsoluteXyz<>& light) {
    auto c = display().cost(light);
    if (light.Y < 5) c.seconds *= 1000;
    return c;
  };
  for (const auto& p : next_patches(fitted(), candidates, targets, dear, 12)) EXPECT_GE(fitted().light(p.signal).Y, 5);
  EXPECT_TRUE(next_patches(fitted(), {}, targets, cost, 5).empty());
}

}  // namespace
}  // namespace provenit::correct
