// The limiter's curve against the simulated display with one, whose limiter weighs channels and dims a little of the
// whole picture: what the model does not know.
#include "provenit/correct/limiter.h"

#include <gmock/gmock.h>

#include <limits>

#include "measured_display.h"
#include "provenit/colour/primaries.h"

namespace provenit::correct {
namespace {

using bench::MeasuredDisplay;
using testing::HasSubstr;

signal::Signal windowed(const colour::SignalRgb<>& e, double percent) {
  auto s = MeasuredDisplay::shown(e);
  s.geometry.area_fraction = percent / 100;
  if (percent == 100) s.geometry = {};
  return s;
}

TEST(Limiter, ForetellsColoursAndAreasItHasNotSeen) {
  MeasuredDisplay display("curlew-27", 2);
  display.read_chosen(1.6, colour::p3_d65_primaries);
  const auto model = DisplayModel::fit(MeasuredDisplay::encoding(), display.readings(), {.diagnose = false});
  ASSERT_TRUE(model) << model.error().text();
  std::vector<WindowReading> windows;
  for (const double area : {1.0, 4.0, 10.0, 25.0, 50.0, 100.0})
    windows.push_back({.name = "window",
                       .area_percent = area,
                       .luminance = {.cdm2 = display.truth(windowed({.r = 1, .g = 1, .b = 1}, area)).Y},
                       .standard_uncertainty_cdm2 = 0.5});
  const auto limiter = LimiterCurve::fit(windows);
  ASSERT_TRUE(limiter);
  const auto level = [](double cdm2) { return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value; };
  double worst = 0, unlimited = 0;
  for (const double area : {7.0, 18.0, 35.0, 75.0})
    for (const auto& e : {colour::SignalRgb<>{.r = 1, .g = 1, .b = 1},
                          {.r = level(600), .g = level(600), .b = level(600)},
                          {.r = level(100), .g = level(100), .b = level(100)},
                          {.r = level(800), .g = level(500), .b = level(100)}}) {
      const double truth = display.truth(windowed(e, area)).Y;
      worst = std::max(worst, std::abs(limited_light(*model, *limiter, e, area).Y / truth - 1));
      unlimited = std::max(unlimited, std::abs(model->light(e).Y / truth - 1));
    }
  EXPECT_LT(worst, 0.12);
  EXPECT_GT(unlimited, 1.0) << "without the limiter it would be off by more than double";
}

TEST(Limiter, NeverRisesAndSaysHowSureItIs) {
  const std::vector<WindowReading> windows{{"a", 1, {.cdm2 = 900}, 5},
                                           {"b", 10, {.cdm2 = 910}, 5},
                                           {"c", 50, {.cdm2 = 400}, 2},
                                           {"d", 100, {.cdm2 = 250}, 2}};
  const auto curve = LimiterCurve::fit(windows);
  ASSERT_TRUE(curve);
  EXPECT_DOUBLE_EQ(curve->cap(0.01), 1);
  EXPECT_DOUBLE_EQ(curve->cap(0.1), 1) << "905 both: the nearest that does not rise";
  EXPECT_NEAR(curve->cap(1), 250.0 / 905, 1e-12);
  for (double load = 0.005; load < 1; load *= 1.1) EXPECT_GE(curve->cap(load), curve->cap(load * 1.1) - 1e-12);
  EXPECT_NEAR(curve->uncertainty(0.01), 5.0 / 905, 1e-12);
}

TEST(Limiter, RefusesBadWindows) {
  const auto refusal = [](std::vector<WindowReading> w) { return LimiterCurve::fit(w).error().text(); };
  const WindowReading good{"good", 10, {.cdm2 = 900}, 5};
  EXPECT_THAT(refusal({good}), HasSubstr("at least two areas"));
  EXPECT_THAT(refusal({good, {"dark", 50, {.cdm2 = 0}, 5}}), HasSubstr("dark"));
  EXPECT_THAT(refusal({good, {"wide", 120, {.cdm2 = 100}, 5}}), HasSubstr("wide"));
  EXPECT_THAT(refusal({good, {"lost", 50, {.cdm2 = std::numeric_limits<double>::quiet_NaN()}, 5}}), HasSubstr("lost"));
}

}  // namespace
}  // namespace provenit::correct
