// What each procedure is for: that it finds what it looks for on displays whose truth is known.
#include <gmock/gmock.h>

#include <cmath>
#include <random>
#include <set>

#include "play.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

using testing::Each;
using testing::ElementsAre;
using testing::Not;

Played must_play(const char* id, const Context& context,
                 const std::function<double(const signal::Signal&, double)>& light) {
  auto played = play(*find_procedure(id), context, light);
  EXPECT_TRUE(played) << played.error().text();
  return played ? *played : Played{};
}

/// One pass only.
Context once(Context context = {}) {
  context.parameters["repeats"] = context.parameters["max_repeats"] = 1;
  return context;
}

std::vector<std::string> keys_without_reference(const Played& played) {
  std::vector<std::string> keys;
  for (const auto& key : keys_of(played))
    if (key != "reference") keys.push_back(key);
  return keys;
}

// ---- warm_up

Context warm_up_context(double tolerance_percent) {
  return {.parameters = {{"tolerances_percent", {tolerance_percent, 4.0}}, {"interval_s", 10.0}, {"window_s", 200.0}}};
}

TEST(WarmUp, EndsWhenTheChangeOverTheWindowIsWithinTheTolerance) {
  for (double tau : {60.0, 400.0, 900.0}) {
    const auto curve = [tau](double t) { return 100 * (1 - 0.05 * std::exp(-t / tau)); };
    const auto played = must_play("warm_up", warm_up_context(0.5), [&](const auto&, double t) { return curve(t); });
    // Truth: first t whose window's rise, averaged at both ends over 5 readings (40 s), is at most 0.5 %.
    const double end = played.readings.back().taken - played.readings.front().taken > Seconds{0}
                           ? (played.readings.back().taken - played.readings.front().taken).s
                           : 0;
    const double begun = played.readings.front().taken.unix_s - 1000;
    const auto rise = [&](double t) {  // between the running means' centres
      return 100 * (curve(begun + t - 20) - curve(begun + t - 180)) / 100;
    };
    EXPECT_LE(rise(end), 0.51) << tau;
    if (end > 210) {
      EXPECT_GT(rise(end - 10), 0.49) << tau;
    }
  }
}

TEST(WarmUp, NoiseBelowTheToleranceDoesNotKeepItAwake) {
  std::mt19937_64 random(7);
  std::normal_distribution<double> noise(0, 0.001);
  const auto played =
      must_play("warm_up", warm_up_context(0.5), [&](const auto&, double) { return 100 * (1 + noise(random)); });
  EXPECT_LT((played.readings.back().taken - played.readings.front().taken).s, 400);
}

TEST(WarmUp, ADisplayThatNeverSettlesIsLeftAtTheLongestTime) {
  Context context = warm_up_context(0.5);
  context.parameters["max_time_s"] = 900.0;
  const auto played = must_play("warm_up", context, [](const auto&, double t) { return 100 + 5 * std::sin(t / 50); });
  const double end = (played.readings.back().taken - played.readings.front().taken).s;
  EXPECT_GE(end, 900);
  EXPECT_LE(end, 920);
}

TEST(WarmUp, AWindowTooShortToJudgeIsRefused) {
  const Context context{.parameters = {{"interval_s", 60.0}, {"window_s", 120.0}}};
  const auto step = find_procedure("warm_up")->next(context, {});
  ASSERT_FALSE(step);
  EXPECT_EQ(step.error().where.field, "window_s");
}

// ---- black_level

TEST(BlackLevel, StopsByItselfWhenTheMeanIsKnownWellEnough) {
  const Context context{.parameters = {{"target_standard_error_cdm2", 0.0002}}};
  const auto run = [&context](double noise_cdm2) {
    std::mt19937_64 random(3);
    std::normal_distribution<double> noise(0, noise_cdm2);
    return keys_without_reference(
               must_play("black_level", context, [&](const auto&, double) { return 0.003 + noise(random); }))
        .size();
  };
  EXPECT_EQ(run(0.00001), 3u);
  EXPECT_EQ(run(0.01), 10u);
}

TEST(BlackLevel, TheTargetIsTheStandardErrorOfTheMean) {
  // Readings alternate by +-0.0005: the experimental standard deviation of an even number n of them is
  // 0.0005 sqrt(n / (n - 1)), that of the mean 0.0005 / sqrt(n - 1); at most 0.0002 from n = 8 on. For n = 7 it is
  // 0.0002020.
  const Context context{.parameters = {{"target_standard_error_cdm2", 0.0002}}};
  int n = 0;
  const auto played =
      must_play("black_level", context, [&](const auto&, double) { return 0.003 + (n++ % 2 == 0 ? 0.0005 : -0.0005); });
  EXPECT_EQ(keys_without_reference(played).size(), 8u);
}

// ---- window_peak

TEST(WindowPeak, AreasRiseAndLargeOnesAreFollowedByBlack) {
  Context context{.parameters = {{"repeats", 2}, {"max_repeats", 2}, {"areas_percent", {100, 10, 1, 10, 2.5}}}};
  const auto played =
      must_play("window_peak", context, [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); });
  EXPECT_THAT(keys_without_reference(played), ElementsAre("window_1", "window_2.5", "window_10", "window_100",
                                                          "window_1", "window_2.5", "window_10", "window_100"));
  for (std::size_t i = 1; i < played.steps.size(); ++i) {
    if (played.steps[i - 1].key == "window_100") {
      EXPECT_DOUBLE_EQ(played.steps[i].rest.s, 10);
    }
    if (played.steps[i - 1].key == "window_1") {
      EXPECT_DOUBLE_EQ(played.steps[i].rest.s, 0);
    }
  }
}

TEST(WindowPeak, ItsSignalsAreTheHighestCodeOnBlack) {
  const auto played = must_play("window_peak", {}, [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); });
  for (const auto& step : played.steps) {
    if (step.key == "reference") continue;
    EXPECT_EQ(step.signal.patch.code[0], 940);  // 10-bit narrow 100 %, Rec. ITU-R BT.2100-3
    if (step.key != "window_100") {
      EXPECT_EQ(step.signal.surround.code[0], 64);
      EXPECT_EQ(step.key, "window_" + std::to_string(std::lround(100 * step.signal.geometry.area_fraction)));
    } else {
      EXPECT_EQ(step.signal.geometry.shape, signal::Shape::full_field);
    }
  }
}

TEST(Dwell, ALongStayOfABrightPatchIsRefused) {
  const Context context{.parameters = {{"settle_s", 60.0}}};
  const auto light = [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); };
  const auto played = play(*find_procedure("window_peak"), context, light);
  ASSERT_FALSE(played);
  EXPECT_EQ(played.error().code, ErrorCode::out_of_range);
  EXPECT_EQ(played.error().where.field, "max_bright_dwell_s");
}

TEST(Dwell, ManyRepeatsOfABrightPatchAreBrokenByBlack) {
  const Context context{.parameters = {{"repeats", 40}, {"max_repeats", 40}}};
  const auto played =
      must_play("white_point", context, [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); });
  double on = 0;
  int rests = 0;
  for (std::size_t i = 1; i < played.steps.size(); ++i) {
    const bool same = played.steps[i].key == played.steps[i - 1].key && played.steps[i].rest.s == 0;
    on = same ? on + (played.readings[i].taken - played.readings[i - 1].taken).s : 0;
    rests += played.steps[i].rest.s > 0;
    if (played.steps[i].key == "white") {
      EXPECT_LE(on, 30) << i;
    }
  }
  EXPECT_GT(rests, 2);
}

// ---- greyscale

/// Smallest code whose light reaches 99.5 % of the highest.
int true_clip(const signal::Encoding& encoding, double peak) {
  const auto light = [&](int code) {
    return ideal_luminance_cdm2({.encoding = encoding, .patch = {{code, code, code}}, .surround = {}, .geometry = {}},
                                peak);
  };
  const int top = signal::peak_code(encoding).code[0];
  int code = signal::black_code(encoding).code[0];
  while (light(code) < 0.995 * light(top)) ++code;
  return code;
}

std::set<int> codes_read(const Played& played) {
  std::set<int> codes;
  for (const auto& step : played.steps)
    if (step.key != "reference") codes.insert(step.signal.patch.code[0]);
  return codes;
}

TEST(Greyscale, FindsTheClipPointWhateverWasExpected) {
  for (double truth : {480.0, 1234.0, 4000.0})
    for (double expected : {600.0, 1000.0, 2500.0})
      for (int bits : {10, 12}) {
        const Context context = once({.encoding = {.bits = bits}, .expected_peak_cdm2 = expected});
        const auto played =
            must_play("greyscale", context, [&](const auto& s, double) { return ideal_luminance_cdm2(s, truth); });
        const auto codes = codes_read(played);
        const int clip = true_clip(context.encoding, truth);
        const int step = bits == 10 ? 1 : 4;
        // Both sides of the clip were read, no further apart than the resolution.
        const auto at = codes.lower_bound(clip);
        ASSERT_NE(at, codes.begin());
        EXPECT_LE(*at - *std::prev(at), step) << truth << " expected " << expected << " at " << bits << " bits";
        EXPECT_LT(played.steps.size(), 75u);
      }
}

TEST(Greyscale, NoiseDoesNotLeadTheSearchAstray) {
  std::mt19937_64 random(11);
  std::normal_distribution<double> noise(0, 0.001);
  for (int trial = 0; trial < 20; ++trial) {
    const auto played = must_play("greyscale", once({.expected_peak_cdm2 = 1000}), [&](const auto& s, double) {
      return ideal_luminance_cdm2(s, 1234) * (1 + noise(random));
    });
    const auto codes = codes_read(played);
    const int clip = true_clip({}, 1234);
    EXPECT_TRUE(codes.contains(clip) || codes.contains(clip + 1)) << trial;
    EXPECT_TRUE(codes.contains(clip - 1) || codes.contains(clip - 2)) << trial;
  }
}

TEST(Greyscale, GivesARollOffStepsOfItsOwn) {
  // A display that was expected to reach 4000 and rolls off to 600 cd/m2.
  const auto light = [](const auto& s, double) {
    const double target = ideal_luminance_cdm2(s, 1e9);
    return target < 300 ? target : 600 - 300 * std::exp(-(target - 300) / 300);
  };
  const auto played = must_play("greyscale", once({.expected_peak_cdm2 = 4000}), light);
  int near = 0;
  for (int code : codes_read(played)) {
    const double target =
        ideal_luminance_cdm2({.encoding = {}, .patch = {{code, code, code}}, .surround = {}, .geometry = {}}, 1e9);
    near += target > 290 && target < 590;
  }
  EXPECT_GE(near, 6);
}

TEST(Greyscale, ACurveThatRisesToTheTopHasNoSearch) {
  for (auto transfer : {signal::Transfer::hlg, signal::Transfer::bt1886}) {
    Context context{.encoding = {.transfer = transfer}, .expected_peak_cdm2 = 1000};
    const auto light = [](const auto& s, double) { return ideal_luminance_cdm2(s, 1e9); };
    const auto with = must_play("greyscale", context, light);
    context.parameters["refine"] = false;
    EXPECT_EQ(keys_of(with), keys_of(must_play("greyscale", context, light)));
  }
}

TEST(Greyscale, FindsAClipOfAnHlgDisplayThatFallsShort) {
  const Context context{.encoding = {.transfer = signal::Transfer::hlg}, .expected_peak_cdm2 = 1000};
  const auto played =
      must_play("greyscale", context, [&](const auto& s, double) { return ideal_luminance_cdm2(s, 700); });
  const int clip = true_clip(context.encoding, 700);
  EXPECT_TRUE(codes_read(played).contains(clip));
  EXPECT_TRUE(codes_read(played).contains(clip - 1));
}

TEST(Greyscale, ReadsBlackTheTopAndStepsNearBlackInRisingOrder) {
  const auto played = must_play("greyscale", once({.parameters = {{"refine", false}}}),
                                [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); });
  std::vector<int> codes;
  for (const auto& step : played.steps)
    if (step.key != "reference") codes.push_back(step.signal.patch.code[0]);
  EXPECT_TRUE(std::ranges::is_sorted(codes));
  EXPECT_EQ(codes.front(), 64);
  EXPECT_EQ(codes.back(), 940);
  // E' 0.01, 0.02 and so on: 64 + 876 E', rounded (Rec. ITU-R BT.2100-3).
  for (int near_black : {73, 82, 90, 99, 130}) EXPECT_THAT(codes, testing::Contains(near_black));
}

// ---- primaries

TEST(Primaries, RedGreenAndBlueAddUpToWhiteOnAnIdealDisplay) {
  for (auto transfer : {signal::Transfer::pq, signal::Transfer::hlg, signal::Transfer::bt1886}) {
    const Context context{.encoding = {.transfer = transfer}, .expected_peak_cdm2 = 1000};
    const auto played =
        must_play("primaries", context, [](const auto& s, double) { return ideal_luminance_cdm2(s, 1e9); });
    std::map<std::string, double> light;
    for (const auto& reading : played.readings) light[reading.step] = reading.measurement.xyz.Y;
    // HLG's three codes are each rounded: half a code step is 0.5 % of light.
    const double closeness = transfer == signal::Transfer::hlg ? 0.005 : 1e-9;
    EXPECT_NEAR((light["red"] + light["green"] + light["blue"]) / light["white"], 1, closeness)
        << signal::name_of(transfer);
    EXPECT_EQ(light["black"], 0);
  }
}

TEST(Primaries, ALevelThatHlgCannotShowInOneChannelIsRefused) {
  const Context context{.encoding = {.transfer = signal::Transfer::hlg}, .parameters = {{"level_cdm2", 1000.0}}};
  const auto played = play(*find_procedure("primaries"), context, [](const auto&, double) { return 1.0; });
  ASSERT_FALSE(played);
  EXPECT_EQ(played.error().where.field, "level_cdm2");
}

// ---- checkerboard

TEST(Checkerboard, ThePhasesAreEachOthersNegative) {
  const auto played =
      must_play("checkerboard", once(), [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000) + 1; });
  EXPECT_THAT(keys_without_reference(played), ElementsAre("check_black", "check_white"));
  std::map<std::string, signal::Signal> signals;
  for (const auto& step : played.steps) signals[step.key] = step.signal;
  EXPECT_EQ(signals["check_white"].patch, signals["check_black"].surround);
  EXPECT_EQ(signals["check_white"].surround, signals["check_black"].patch);
  EXPECT_EQ(signals["check_white"].geometry, signals["check_black"].geometry);
}

TEST(Checkerboard, AnEvenNumberOfSquaresIsReadRightOfAndBelowTheCentre) {
  const auto* procedure = find_procedure("checkerboard");
  const auto played = play(*procedure, once({.parameters = {{"columns", 2}, {"rows", 3}}}),
                           [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000) + 1; });
  ASSERT_TRUE(played) << played.error().text();
  for (const auto& step : played->steps)
    EXPECT_EQ(step.placement, (instrument::Placement{.x = 0.75, .y = 0.5})) << step.key;
  const auto& reference = played->steps.front().signal.geometry;
  EXPECT_NEAR(reference.centre_x, 0.75, 1e-12) << "around the place that is read";
  EXPECT_EQ(reference.centre_y, 0.5);
  EXPECT_EQ(procedure->next({.parameters = {{"rows", 1}}}, {}).error().where.field, "rows");
  EXPECT_EQ(procedure->next({.parameters = {{"local_dimming", "maybe"}}}, {}).error().where.field, "local_dimming");
}

}  // namespace
}  // namespace provenit::procedure
