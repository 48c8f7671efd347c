#include "provenit/evaluation/verdict.h"

#include <gtest/gtest.h>

#include <limits>

#include "light_source.h"
#include "provenit/evaluation/comparison.h"

namespace provenit::evaluation {
namespace {

using store::Comparison;
using store::Verdict;

store::FindingRecord peak(double value, double u, double scale_part = 0) {
  store::FindingRecord f{.quantity = "peak_luminance",
                         .conditions = {{"window_percent", 10}},
                         .value = value,
                         .unit = "cd/m2",
                         .standard_uncertainty = u,
                         .lower95 = value - 2 * u,
                         .upper95 = value + 2 * u};
  f.dominant = "instrument's luminance scale (90 % of variance)";
  f.parts = {{"variance", nlohmann::json::array({{{"source", "instrument's luminance scale"}, {"fraction", 0.9}}})},
             {"contributions", {{"luminance_scale", scale_part}}},
             {"degrees_of_freedom", nullptr}};
  return f;
}

store::QuestionRecord question(Comparison comparison, std::optional<double> lower, std::optional<double> upper) {
  return {.quantity = "peak_luminance",
          .conditions = {{"window_percent", 10.0}},
          .comparison = comparison,
          .lower = lower,
          .upper = upper,
          .unit = "cd/m2"};
}

TEST(Verdict, WholeIntervalInsideOutsideOrNeither) {
  const auto at_least = question(Comparison::at_least, 1000, std::nullopt);
  EXPECT_EQ(verdict(peak(1021, 10), at_least)->verdict, Verdict::meets);
  EXPECT_EQ(verdict(peak(1020, 10), at_least)->verdict, Verdict::meets) << "the limit itself is inside";
  EXPECT_EQ(verdict(peak(1019, 10), at_least)->verdict, Verdict::undecided);
  EXPECT_EQ(verdict(peak(981, 10), at_least)->verdict, Verdict::undecided);
  EXPECT_EQ(verdict(peak(979, 10), at_least)->verdict, Verdict::fails);
  EXPECT_DOUBLE_EQ(*verdict(peak(979, 10), at_least)->margin, -21);
  const auto at_most = question(Comparison::at_most, std::nullopt, 1000);
  EXPECT_EQ(verdict(peak(979, 10), at_most)->verdict, Verdict::meets);
  EXPECT_EQ(verdict(peak(1021, 10), at_most)->verdict, Verdict::fails);
  const auto within = question(Comparison::within, 900, 1000);
  EXPECT_EQ(verdict(peak(950, 10), within)->verdict, Verdict::meets);
  EXPECT_EQ(verdict(peak(950, 30), within)->verdict, Verdict::undecided) << "wider than the range: never outside it";
  EXPECT_EQ(verdict(peak(870, 10), within)->verdict, Verdict::fails);
  EXPECT_DOUBLE_EQ(*verdict(peak(960, 10), within)->margin, 40);
}

TEST(Verdict, AnOpenUpperEndStillDecidesALowerLimit) {
  auto f = peak(5e5, 1);
  f.quantity = "sequential_contrast";
  f.lower95 = 4e5;
  f.upper95 = std::numeric_limits<double>::infinity();
  auto q = question(Comparison::at_least, 1e5, std::nullopt);
  EXPECT_EQ(verdict(f, q)->verdict, Verdict::meets);
  q = question(Comparison::at_most, std::nullopt, 1e6);
  EXPECT_EQ(verdict(f, q)->verdict, Verdict::undecided);
}

TEST(Verdict, AnOpenQuestionHasNone) {
  EXPECT_FALSE(verdict(peak(1000, 10), question(Comparison::at_least, std::nullopt, std::nullopt)));
  EXPECT_FALSE(verdict(peak(1000, 10), question(Comparison::equal_set, 1, 2)));
}

TEST(Verdict, TextSaysValueLimitAndWhatDecides) {
  const auto v = verdict(peak(1005, 10), question(Comparison::at_least, 1000, std::nullopt));
  EXPECT_EQ(v->decides, "instrument's luminance scale");
  for (const char* part : {"Peak luminance", "1005 cd/m2", "985", "1025", "at least 1000 cd/m2", "undecided", "scale"})
    EXPECT_NE(v->text.find(part), std::string::npos) << part << " in: " << v->text;
}

TEST(Answers, QuantityAndEveryConditionMustMatch) {
  auto q = question(Comparison::at_least, 1, std::nullopt);
  EXPECT_TRUE(answers(peak(1, 1), q)) << "10 and 10.0 are one window";
  q.conditions = {{"window_percent", 25}};
  EXPECT_FALSE(answers(peak(1, 1), q));
  q.conditions = nlohmann::json::object();
  EXPECT_TRUE(answers(peak(1, 1), q));
  q.conditions = {{"rows", 5}};
  EXPECT_FALSE(answers(peak(1, 1), q));
  q = question(Comparison::at_least, 1, std::nullopt);
  q.quantity = "loading";
  EXPECT_FALSE(answers(peak(1, 1), q));
}

TEST(Compare, TheInstrumentsCommonErrorsCancel) {
  // 1 % of scale in both, 1 cd/m2 of noise each.
  const auto a = peak(1000, std::hypot(10.0, 1.0), 10), b = peak(990, std::hypot(9.9, 1.0), 9.9);
  const auto same = compare(a, b, true), other = compare(a, b, false);
  ASSERT_TRUE(same && other);
  EXPECT_NEAR(same->standard_uncertainty, std::hypot(0.1, std::sqrt(2.0)), 1e-9);
  EXPECT_EQ(same->outcome, Outcome::a_higher);
  EXPECT_GT(same->cancelled, 0.98);
  EXPECT_NEAR(other->standard_uncertainty, std::sqrt(10 * 10 + 9.9 * 9.9 + 2), 1e-9);
  EXPECT_EQ(other->outcome, Outcome::no_difference_shown);
  EXPECT_EQ(compare(b, a, true)->outcome, Outcome::b_higher);
  EXPECT_NE(compare(a, b, true, {"Tern 32", "Curlew 27"})->text.find("Tern 32 is higher than Curlew 27"),
            std::string::npos);
}

TEST(Compare, FewDegreesOfFreedomWidenTheInterval) {
  auto a = peak(1000, 1), b = peak(996, 1);
  const double usual = compare(a, b, false)->interval.width();
  a.parts["degrees_of_freedom"] = 2.0;
  b.parts["degrees_of_freedom"] = 2.0;
  EXPECT_GT(compare(a, b, false)->interval.width(), 1.3 * usual);
}

TEST(Compare, RefusesWhatIsNotTheSame) {
  auto a = peak(1000, 1), b = peak(996, 1);
  b.conditions = {{"window_percent", 25}};
  EXPECT_FALSE(compare(a, b, true));
  b = peak(996, 1);
  b.quantity = "black_luminance";
  EXPECT_FALSE(compare(a, b, true));
  b = peak(996, std::numeric_limits<double>::infinity());
  EXPECT_FALSE(compare(a, b, true));
}

TEST(Compare, RealFindingsOfOneMeterCancelItsScale) {
  // Two displays read by one meter with 2 % of scale: 0.5 % between them shows.
  const auto findings = [](double peak_cdm2) {
    FakeMeter meter{.scale = 0.012};
    RunBuilder run("window_peak", meter);
    run.reference();
    for (int i = 0; i < 4; ++i) run.read("window_10", grey_signal(940), d65_light(peak_cdm2));
    const std::array runs{run.reference().done()};
    return *evaluate(runs, usual_input());
  };
  const auto a = findings(1005), b = findings(1000);
  EXPECT_EQ(compare(a[0], b[0], true)->outcome, Outcome::a_higher);
  EXPECT_EQ(compare(a[0], b[0], false)->outcome, Outcome::no_difference_shown);
}

}  // namespace
}  // namespace provenit::evaluation
