#include "provenit/procedure/planner.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <map>

#include "provenit/procedure/estimate.h"

namespace provenit::procedure {
namespace {

using testing::Contains;
using testing::ElementsAre;
using testing::Field;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::SizeIs;
using testing::UnorderedElementsAre;

store::QuestionRecord question(const std::string& key, const std::string& quantity, std::optional<double> lower,
                               std::optional<double> upper = {}, nlohmann::json conditions = nlohmann::json::object(),
                               double weight = 1) {
  return {.key = key,
          .quantity = quantity,
          .conditions = std::move(conditions),
          .lower = lower,
          .upper = upper,
          .weight = weight};
}

std::vector<store::QuestionRecord> some_questions() {
  return {question("peak", "peak_luminance", 1000, {}, {{"window_percent", 10}}, 3),
          question("black", "black_luminance", {}, 0.005, nlohmann::json::object(), 2),
          question("contrast", "sequential_contrast", 100000, {}, {{"window_percent", 10}}),
          question("white", "white_delta_uv", {}, 0.003),
          question("eotf", "eotf_mean_delta_e_itp", {}, 4.0),
          question("p3", "gamut_coverage", 98, {}, {{"reference", "p3_d65"}, {"plane", "uv"}}),
          question("checker", "checkerboard_contrast", {}, {}, {{"columns", 5}, {"rows", 5}})};
}

PlanRequest request(double hours, std::vector<store::QuestionRecord> questions = some_questions()) {
  return {.questions = std::move(questions), .available = {hours * 3600}};
}

Plan must_plan(const PlanRequest& asked) {
  auto plan = make_plan(asked);
  EXPECT_TRUE(plan) << plan.error().text();
  return plan ? *plan : Plan{};
}

std::vector<std::string> procedures_of(const Plan& plan) {
  std::vector<std::string> ids;
  for (const auto& run : plan.runs) ids.push_back(run.procedure);
  return ids;
}

std::vector<std::string> left_out_of(const Plan& plan) {
  std::vector<std::string> keys;
  for (const auto& left : plan.left_out) keys.push_back(left.key);
  return keys;
}

TEST(Planner, WithTimeEnoughEveryQuestionIsServedWarmUpFirst) {
  const auto plan = must_plan(request(8));
  EXPECT_THAT(procedures_of(plan), ElementsAre("warm_up", "black_level", "white_point", "primaries", "greyscale",
                                               "checkerboard", "window_peak"));
  EXPECT_THAT(plan.left_out, IsEmpty());
  ASSERT_THAT(plan.expectations, SizeIs(7));
  for (const auto& expected : plan.expectations) {
    EXPECT_GT(expected.probability, 0.2) << expected.key;
    EXPECT_EQ(expected.measured_only, expected.key == "checker");
  }
  EXPECT_LE(plan.total, plan.available);
  EXPECT_DOUBLE_EQ(plan.total_weight, 9.5);
  EXPECT_LE(plan.expected_weight, plan.total_weight);
}

TEST(Planner, TimesAddUpAndAreThoseOfTheEstimate) {
  const auto asked = request(8);
  const auto plan = must_plan(asked);
  Seconds sum{0};
  for (const auto& run : plan.runs) {
    Context context = asked.context;
    context.parameters = run.parameters;
    const auto cost = estimate(*find_procedure(run.procedure), context, run.repeats);
    ASSERT_TRUE(cost);
    EXPECT_DOUBLE_EQ(run.time.s, cost->total.s) << run.procedure;
    sum = sum + run.time;
    EXPECT_DOUBLE_EQ(run.cumulative.s, sum.s);
  }
  EXPECT_DOUBLE_EQ(plan.total.s, sum.s);
}

TEST(Planner, ItsParametersCanBeRun) {
  const auto plan = must_plan(request(8));
  for (const auto& run : plan.runs) {
    const auto step = find_procedure(run.procedure)->next({.parameters = run.parameters}, {});
    EXPECT_TRUE(step) << run.procedure << ": " << step.error().text();
    if (run.procedure != "warm_up") {
      EXPECT_EQ(run.parameters.value("max_repeats", 0), run.repeats) << run.procedure;
    }
  }
}

TEST(Planner, IsDeterministic) {
  const auto first = must_plan(request(1)), second = must_plan(request(1));
  EXPECT_EQ(procedures_of(first), procedures_of(second));
  EXPECT_EQ(first.total, second.total);
  EXPECT_EQ(first.hour_more.text, second.hour_more.text);
}

TEST(Planner, MoreTimeNeverDecidesLess) {
  double last = 0;
  for (double hours : {0.0, 0.1, 0.25, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0, 1.5, 2.0, 4.0}) {
    const auto plan = must_plan(request(hours));
    EXPECT_LE(plan.total, plan.available);
    // The choice counts probabilities in steps of 0.005.
    EXPECT_GE(plan.expected_weight, last - 0.005 * plan.total_weight) << hours;
    last = plan.expected_weight;
  }
}

TEST(Planner, WithoutTimeEverythingIsLeftOutAndSaidWhy) {
  const auto plan = must_plan(request(0.05));
  EXPECT_THAT(plan.runs, IsEmpty());
  ASSERT_THAT(plan.left_out, SizeIs(7));
  for (const auto& left : plan.left_out) EXPECT_EQ(left.reason, LeftOut::Reason::no_time);
  EXPECT_THAT(plan.left_out[0].text, HasSubstr("warm_up, window_peak"));
  EXPECT_THAT(plan.hour_more.runs, Contains(testing::StartsWith("window_peak")));
  EXPECT_GT(plan.hour_more.expected_weight, 3);
  EXPECT_THAT(plan.hour_more.questions, Contains("peak"));
}

TEST(Planner, AWarmDisplayNeedsNoWarmUp) {
  auto asked = request(0.05);
  asked.warmed_up = true;
  const auto plan = must_plan(asked);
  EXPECT_THAT(procedures_of(plan), Not(Contains("warm_up")));
  EXPECT_THAT(procedures_of(plan), Not(IsEmpty()));
  asked.questions.push_back(question("settle", "settle_time", {}, 1800, {{"tolerance_percent", 0.5}}));
  asked.available = {4 * 3600};
  EXPECT_THAT(procedures_of(must_plan(asked)), Contains("warm_up"));
}

TEST(Planner, ShortTimeGoesToTheHeavierQuestion) {
  std::vector<store::QuestionRecord> questions{
      question("white", "white_delta_uv", {}, 0.003, nlohmann::json::object(), 1),
      question("eotf", "eotf_mean_delta_e_itp", {}, 4.0, nlohmann::json::object(), 2)};
  auto asked = request(0.02, questions);  // greyscale alone takes longer than this
  asked.warmed_up = true;
  const auto short_plan = must_plan(asked);
  EXPECT_THAT(procedures_of(short_plan), Contains("white_point"));
  const double greyscale = estimate(*find_procedure("greyscale"), {}, 1)->total.s;
  asked.available = {greyscale + 1};
  EXPECT_THAT(left_out_of(must_plan(asked)), Not(Contains("eotf")));
  asked.questions[0].weight = 100;
  EXPECT_THAT(left_out_of(must_plan(asked)), ElementsAre("eotf"));
}

TEST(Planner, ContrastNeedsBothItsRuns) {
  auto asked = request(8, {question("contrast", "sequential_contrast", 100000, {}, {{"window_percent", 10}})});
  asked.warmed_up = true;
  const auto plan = must_plan(asked);
  EXPECT_THAT(procedures_of(plan), ElementsAre("black_level", "window_peak"));
  for (const auto& run : plan.runs) EXPECT_THAT(run.questions, ElementsAre("contrast"));
}

TEST(Planner, HlgTargetsNeedPeakAndBlackToo) {
  auto asked = request(8, {question("eotf", "eotf_mean_delta_e_itp", {}, 4.0)});
  asked.warmed_up = true;
  EXPECT_THAT(procedures_of(must_plan(asked)), ElementsAre("greyscale"));
  asked.context.encoding.transfer = signal::Transfer::hlg;
  EXPECT_THAT(procedures_of(must_plan(asked)), ElementsAre("black_level", "greyscale", "window_peak"));
}

TEST(Planner, WindowsOfAllQuestionsGoIntoOneRun) {
  auto asked = request(8, {question("odd", "peak_luminance", 1000, {}, {{"window_percent", 18}}),
                           question("ten", "peak_luminance", 1000, {}, {{"window_percent", 10}})});
  asked.warmed_up = true;
  const auto plan = must_plan(asked);
  ASSERT_THAT(plan.runs, SizeIs(1));
  EXPECT_EQ(plan.runs[0].parameters["areas_percent"], nlohmann::json({1, 2, 5, 10, 18, 25, 50, 75, 100}));
}

TEST(Planner, AnglesDistancesLevelsAndMinutesGoIntoTheirLists) {
  auto asked =
      request(12, {question("low", "off_axis_luminance", {}, {}, {{"angle_deg", 20}, {"direction", "below"}}),
                   question("left", "off_axis_delta_uv", {}, {}, {{"angle_deg", 50}, {"direction", "left"}}),
                   question("right", "off_axis_luminance", {}, {}, {{"angle_deg", 30}, {"direction", "right"}}),
                   question("near", "halo_luminance", {}, {}, {{"window_percent", 4}, {"distance_percent", 5}}),
                   question("steps", "steps_resolved", {}, {}, {{"level_cdm2", 25}}),
                   question("stay", "sustained_luminance", {}, {}, {{"window_percent", 100}, {"minutes", 4}}),
                   question("after", "recovery_luminance", {}, {}, {{"window_percent", 100}, {"minutes", 3}})});
  asked.warmed_up = true;
  const auto plan = must_plan(asked);
  const auto list = [&](const char* procedure, const char* parameter) {
    const auto run = std::ranges::find(plan.runs, procedure, &PlannedRun::procedure);
    return run == plan.runs.end() ? nlohmann::json() : run->parameters.value(parameter, nlohmann::json());
  };
  EXPECT_THAT(plan.runs, SizeIs(4));
  EXPECT_EQ(list("off_axis", "horizontal_angles_deg"), nlohmann::json({-60, -50, -45, -30, -15, 15, 30, 45, 60}));
  EXPECT_EQ(list("off_axis", "vertical_angles_deg"), nlohmann::json({-30, -20, -15, 15, 30}));
  EXPECT_EQ(list("halo", "distances_percent"), nlohmann::json({2, 3, 4, 5, 6, 8, 12, 18, 28}));
  EXPECT_EQ(list("step_resolution", "levels_cdm2"), nlohmann::json({1, 10, 25, 100, 400}));
  EXPECT_EQ(list("sustained", "stay_minutes"), nlohmann::json({0.25, 0.5, 1, 2, 3, 4, 5, 7, 10}));
  EXPECT_EQ(list("sustained", "recovery_minutes"), nlohmann::json({0.25, 0.5, 1, 2, 3, 5}));
}

TEST(Planner, TwoCheckerboardsAreTwoRuns) {
  auto asked = request(8, {question("five", "checkerboard_contrast", {}, {}, {{"columns", 5}, {"rows", 5}}),
                           question("nine", "checkerboard_contrast", {}, {}, {{"columns", 9}, {"rows", 9}})});
  asked.warmed_up = true;
  const auto plan = must_plan(asked);
  ASSERT_THAT(plan.runs, SizeIs(2));
  EXPECT_EQ(plan.runs[1].parameters["columns"], 9);
  EXPECT_THAT(plan.runs[1].questions, ElementsAre("nine"));
}

TEST(Planner, TheWarmUpIsRunOnce) {
  const auto plan = must_plan(request(8, {question("a", "settle_time", {}, 1800, {{"tolerance_percent", 0.5}}),
                                          question("b", "settle_time", {}, 1800, {{"tolerance_percent", 1}})}));
  EXPECT_THAT(procedures_of(plan), ElementsAre("warm_up"));
  EXPECT_THAT(plan.left_out, IsEmpty());
  EXPECT_THAT(plan.runs[0].questions, ElementsAre("a", "b"));
  EXPECT_EQ(plan.runs[0].parameters["tolerances_percent"], nlohmann::json({0.5, 1.0}));
  const auto wide = must_plan(request(8, {question("b", "settle_time", {}, 1800, {{"tolerance_percent", 1}})}));
  EXPECT_EQ(wide.runs[0].parameters["tolerances_percent"], nlohmann::json({1.0}));
}

TEST(Planner, WhatIsDecidedIsLeftOut) {
  auto asked = request(8);
  asked.findings.push_back({.quantity = "peak_luminance",
                            .conditions = {{"window_percent", 10}},
                            .value = 1400,
                            .standard_uncertainty = 14,
                            .lower95 = 1372,
                            .upper95 = 1428});
  const auto plan = must_plan(asked);
  ASSERT_THAT(plan.left_out, SizeIs(1));
  EXPECT_EQ(plan.left_out[0].reason, LeftOut::Reason::decided_already);
  EXPECT_DOUBLE_EQ(plan.total_weight, 6.5);
}

TEST(Planner, AFindingNearItsLimitLowersTheHopeOfDecidingIt) {
  auto asked = request(8, {question("peak", "peak_luminance", 1000, {}, {{"window_percent", 10}})});
  const double before = must_plan(asked).expectations.at(0).probability;
  asked.findings.push_back({.quantity = "peak_luminance",
                            .conditions = {{"window_percent", 10}},
                            .value = 1004,
                            .standard_uncertainty = 10,
                            .lower95 = 984,
                            .upper95 = 1024});
  const double after = must_plan(asked).expectations.at(0).probability;
  EXPECT_GT(before, 0.7);
  EXPECT_LT(after, 0.25);
}

TEST(Planner, RepeatsAreBoughtOnlyWhereTheyHelp) {
  auto asked = request(20);
  const auto plan = must_plan(asked);
  std::map<std::string, int> repeats;
  for (const auto& run : plan.runs) repeats[run.procedure] = run.repeats;
  EXPECT_GT(repeats["black_level"], 1) << "noise decides there";
  EXPECT_EQ(repeats["checkerboard"], 1) << "only its value is wanted";
  EXPECT_LT(plan.total.s, 10 * 3600) << "time is not spent for its own sake";
  EXPECT_THAT(plan.hour_more.runs, IsEmpty());
  EXPECT_THAT(plan.hour_more.text, HasSubstr("nothing more"));
}

TEST(Planner, AQuestionWithoutWeightBuysNoTime) {
  auto asked = request(8, {question("peak", "peak_luminance", 1000, {}, {{"window_percent", 10}}, 0)});
  const auto plan = must_plan(asked);
  EXPECT_THAT(plan.runs, IsEmpty());
  ASSERT_THAT(plan.left_out, SizeIs(1));
  EXPECT_EQ(plan.left_out[0].reason, LeftOut::Reason::no_weight);
}

TEST(Planner, RefusesWhatItDoesNotKnow) {
  const auto unknown = make_plan(request(1, {question("x", "sparkle", 1)}));
  ASSERT_FALSE(unknown);
  EXPECT_THAT(unknown.error().text(), HasSubstr("sparkle"));
  const auto negative = make_plan(request(1, {question("x", "black_luminance", {}, 1, nlohmann::json::object(), -1)}));
  ASSERT_FALSE(negative);
  const auto impossible =
      make_plan(request(1, {question("x", "checkerboard_contrast", {}, {}, {{"columns", 1}, {"rows", 5}})}));
  ASSERT_FALSE(impossible);
  EXPECT_EQ(impossible.error().where.field, "columns");
}

}  // namespace
}  // namespace provenit::procedure
