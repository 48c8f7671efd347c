// A display as its readings describe it for forecasts, against the simulator's truth.
#include <gmock/gmock.h>

#include "fixture.h"

namespace provenit::forecast {
namespace {

using namespace testing;

class Display : public ::testing::TestWithParam<const char*> {
 protected:
  Measured& m = measured(GetParam());
};
INSTANTIATE_TEST_SUITE_P(Demo, Display, ::testing::Values("tern-32", "curlew-27"),
                         [](const auto& tested) { return std::string(tested.param).substr(0, 4); });

TEST_P(Display, HoldsOnSignalsItHasNotSeen) {
  const auto check = m.display.eye_check(m.loan.read(check_signals({}, true)));
  EXPECT_EQ(check.verdict, "holds");
  EXPECT_EQ(check.spots.size(), 19U);
  EXPECT_LT(check.median_lit_error, 0.03);
  EXPECT_LT(check.median_dark_error, 0.3);
}

TEST_P(Display, DoesNotHoldOnAnotherDisplay) {
  // The readings of the other display: another peak, other black.
  const std::string other = std::string(GetParam()) == "tern-32" ? "curlew-27" : "tern-32";
  const auto check = m.display.eye_check(measured(other).loan.read(check_signals({}, true)));
  EXPECT_EQ(check.verdict, "does not hold");
}

TEST_P(Display, AFewReadingsDecideNothing) {
  auto readings = m.loan.read(check_signals({}));
  readings.resize(4);
  EXPECT_EQ(m.display.eye_check(readings).verdict, "undecided");
}

TEST_P(Display, ChannelsRiseAndGreysKeepTheModelsLight) {
  const auto& channels = m.display.channels();
  for (const auto& curve : channels.curve) EXPECT_TRUE(std::is_sorted(curve.begin(), curve.end()));
  for (const auto& row : channels.mixing.row) EXPECT_NEAR(row[0] + row[1] + row[2], 1, 1e-9);
  const signal::Encoding encoding;
  for (const double cdm2 : {1.0, 20.0, 200.0, 600.0}) {
    const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = cdm2}).value();
    const signal::Signal s{.encoding = encoding,
                           .patch = code,
                           .surround = signal::black_code(encoding),
                           .geometry = {.shape = signal::Shape::window, .area_fraction = 0.04}};
    const auto model = m.evidence.model.light(signal::signal_of(encoding, code));
    EXPECT_NEAR(m.display.light(s, 0.5, 0.5).Y, model.Y, 0.01 * model.Y) << cdm2;
  }
}

TEST_P(Display, SaysWhatItAssumes) {
  EXPECT_GE(m.display.assumptions().size(), 3U);
  EXPECT_THAT(m.display.assumptions(), ::testing::Contains(::testing::HasSubstr("assumed speeds")));
}

TEST_P(Display, RefusesEvidenceThatLacksWhatItNeeds) {
  const auto without = [&](auto&& drop) {
    auto evidence = m.evidence;
    std::erase_if(evidence.spots, drop);
    return ForecastDisplay::fit(evidence);
  };
  const auto no_black = without([](const SpotReading& s) { return s.name.starts_with("black_level"); });
  ASSERT_FALSE(no_black.has_value());
  EXPECT_THAT(no_black.error().text(), ::testing::HasSubstr("black_level"));
  EXPECT_FALSE(without([](const SpotReading& s) { return s.signal.patch.code[0] == 940; }).has_value());
  auto evidence = m.evidence;
  evidence.spots.front().light.Y = std::nan("");
  EXPECT_FALSE(ForecastDisplay::fit(evidence).has_value());
  evidence = m.evidence;
  evidence.zone_rows = 0;
  evidence.zone_columns = 40;
  EXPECT_FALSE(ForecastDisplay::fit(evidence).has_value());
}

TEST(LimitedDisplay, KnowsThatItDims) {
  const auto& optics = measured("curlew-27").display.optics();
  EXPECT_FALSE(optics.zoned());
  EXPECT_NEAR(optics.cap_at(0.03), 1, 0.05);
  EXPECT_LT(optics.cap_at(1), 0.4);
  EXPECT_GT(optics.weight[2], optics.weight[1]);  // blue costs this display most
}

TEST(ZonedDisplay, KnowsThatItsBlackFollowsTheLight) {
  const auto& m = measured("tern-32");
  EXPECT_TRUE(m.display.optics().zoned());
  const signal::Encoding encoding;
  const auto black = signal::black_code(encoding), white = signal::peak_code(encoding);
  const signal::Signal field{.encoding = encoding, .patch = black, .surround = black, .geometry = {}};
  const signal::Signal window{.encoding = encoding,
                              .patch = white,
                              .surround = black,
                              .geometry = {.shape = signal::Shape::window, .area_fraction = 0.04}};
  EXPECT_GT(m.display.light(window, 0.64, 0.5).Y, 5 * m.display.light(field, 0.64, 0.5).Y);
}

}  // namespace
}  // namespace provenit::forecast
