#include <gtest/gtest.h>

#include <cmath>

#include "light_source.h"
#include "provenit/colour/difference.h"
#include "provenit/evaluation/verdict.h"

namespace provenit::evaluation {
namespace {

const std::vector<int> kCodes{64,  80,  97,  119, 150, 195, 250, 300, 350, 400, 450,
                              509, 550, 600, 650, 680, 700, 723, 740, 780, 830, 940};

/// A display that follows PQ up to `peak`, there clips hard, and shows D65 times the gains given.
RunData greyscale_run(FakeMeter& meter, double peak, const std::function<double(int)>& luminance_gain,
                      const colour::Xy<>& white = colour::d65_video, int passes = 1) {
  RunBuilder run("greyscale", meter);
  run.reference();
  for (int pass = 0; pass < passes; ++pass) {
    for (int code : kCodes) {
      const double cdm2 = std::min(peak, pq_target(code) * luminance_gain(code)) + 1e-4;
      run.read("grey_" + std::to_string(code), grey_signal(code),
               colour::xyz_from_xy(white, colour::Luminance<>{.cdm2 = cdm2}));
    }
    run.reference();
  }
  return run.done();
}

double one(int) {
  return 1;
}

std::vector<store::FindingRecord> must(const Result<std::vector<store::FindingRecord>>& r) {
  EXPECT_TRUE(r) << (r ? "" : r.error().text());
  return r.value_or(std::vector<store::FindingRecord>{});
}

TEST(Eotf, MeanDeltaEIsThatOfTheStepsBelowTheClipPoint) {
  FakeMeter meter;
  const std::array runs{greyscale_run(meter, 1000, [](int) { return 1.05; })};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "eotf_mean_delta_e_itp");
  ASSERT_NE(f, nullptr);
  double sum = 0;
  int n = 0;
  for (int code : kCodes) {
    const double target = pq_target(code), shown = std::min(1000.0, 1.05 * target) + 1e-4;
    if (code == 64 || code >= 723) continue;  // black, and the plateau: 723 asks for 1004 cd/m2
    sum += colour::itp_difference(d65_light(target), d65_light(shown)).total;
    ++n;
  }
  EXPECT_NEAR(f->parts["as_read"].get<double>(), sum / n, 1e-6);
  EXPECT_EQ(f->parts["steps"].get<int>(), n);
  EXPECT_LE(f->lower95, sum / n);
  EXPECT_GE(f->upper95, sum / n);
  EXPECT_EQ(f->method, "eotf-tracking/BT.2100-3-PQ");
  EXPECT_EQ(f->series.size(), kCodes.size());
  for (const char* key : {"step",
                          "code",
                          "signal",
                          "target_cdm2",
                          "value_cdm2",
                          "lower95_cdm2",
                          "upper95_cdm2",
                          "u_prime",
                          "v_prime",
                          "delta_u",
                          "delta_v",
                          "delta_uv",
                          "delta_uv_lower95",
                          "delta_uv_upper95",
                          "delta_e_itp",
                          "delta_e_itp_lower95",
                          "delta_e_itp_upper95",
                          "luminance_part",
                          "chromaticity_part",
                          "above_clip"})
    EXPECT_TRUE(f->series[5].contains(key)) << key;
}

TEST(Eotf, PartsSayWhatLuminanceAndChromaticityMake) {
  FakeMeter meter;
  const std::array light{greyscale_run(meter, 1000, [](int) { return 1.08; })};
  const std::array colour{greyscale_run(meter, 1000, one, {.x = 0.320, .y = 0.329})};
  const auto by_light = must(evaluate(light, usual_input())), by_colour = must(evaluate(colour, usual_input()));
  const auto* a = find(by_light, "eotf_mean_delta_e_itp");
  const auto* b = find(by_colour, "eotf_mean_delta_e_itp");
  EXPECT_GT(a->parts["luminance"]["value"].get<double>(), 4);
  EXPECT_LT(a->parts["chromaticity"]["value"].get<double>(), 0.5);
  EXPECT_GT(b->parts["chromaticity"]["value"].get<double>(), 3);
  EXPECT_LT(b->parts["luminance"]["value"].get<double>(), 0.7);
  store::QuestionRecord q{.quantity = "eotf_mean_delta_e_itp", .comparison = store::Comparison::at_most, .upper = 2.0};
  EXPECT_EQ(verdict(*a, q)->decides, "luminance part");
  EXPECT_EQ(verdict(*b, q)->decides, "chromaticity part");
  EXPECT_EQ(verdict(*b, q)->verdict, store::Verdict::fails);
}

TEST(Eotf, SplittingNeverExceedsTheWholeByMoreThanItsCurvature) {
  // Near grey the squares of the parts add up to the square of the whole; neither part exceeds it, and it exceeds
  // neither their sum.
  for (double gain : {0.9, 1.0, 1.1})
    for (const auto& white : {colour::Xy<>{.x = 0.305, .y = 0.325}, colour::Xy<>{.x = 0.322, .y = 0.34}}) {
      FakeMeter meter;
      const std::array runs{greyscale_run(
          meter, 1000, [&](int) { return gain; }, white)};
      const auto findings = must(evaluate(runs, usual_input(200)));
      for (const auto& s : find(findings, "eotf_mean_delta_e_itp")->series) {
        if (s["above_clip"].get<bool>() || s["target_cdm2"].get<double>() < 1) continue;
        const double whole = s["delta_e_itp"], l = s["luminance_part"], c = s["chromaticity_part"];
        EXPECT_LE(std::max(l, c), 1.03 * whole + 0.05) << s.dump();
        EXPECT_LE(whole, 1.03 * (l + c) + 0.05) << s.dump();
      }
    }
}

TEST(Eotf, MaximaNameTheWorstStep) {
  FakeMeter meter;
  const std::array runs{greyscale_run(meter, 1000, [](int code) { return code == 400 ? 1.2 : 1.0; })};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "eotf_max_delta_e_itp");
  EXPECT_EQ(f->parts["step"], "grey_400");
  EXPECT_GT(f->lower95, 5);
  const auto* deviation = find(findings, "eotf_max_luminance_deviation");
  EXPECT_NEAR(deviation->parts["as_read"].get<double>(), 20, 0.1);
  EXPECT_LT(deviation->lower95, 20);
  EXPECT_GT(deviation->upper95, 20);
}

TEST(Eotf, TheMetersScaleAloneNeverMakesAPerfectDisplayFail) {
  // 2 % of scale is worth about 1.5 Delta E ITP: a perfect display must stay possible within the certificate.
  FakeMeter meter{.scale = 0.015, .dx = 0.0008};
  const std::array runs{greyscale_run(meter, 1000, one)};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "eotf_mean_delta_e_itp");
  EXPECT_GT(f->parts["as_read"].get<double>(), 0.8);
  EXPECT_LT(f->lower95, 0.3);
  EXPECT_NE(f->dominant.find("instrument"), std::string::npos);
}

TEST(Eotf, NoiseNearBlackIsNotADifference) {
  FakeMeter meter{.floor = 0.0005, .random = std::mt19937_64(5)};
  const std::array runs{greyscale_run(meter, 1000, one, colour::d65_video, 2)};
  auto input = usual_input();
  input.certificate.luminance_expanded_relative = 0;
  input.certificate.x_expanded = input.certificate.y_expanded = 0;
  const auto findings = must(evaluate(runs, input));
  const auto* f = find(findings, "eotf_mean_delta_e_itp");
  EXPECT_LT(f->lower95, 0.35) << "only the 1e-4 cd/m2 of light in black is true";
  EXPECT_LT(f->value, f->parts["as_read"].get<double>());
}

TEST(Clip, IsFoundBetweenTheCodesThatWereRead) {
  FakeMeter meter{.relative = 0.0005};
  const std::array runs{greyscale_run(meter, 1000, one)};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* light = find(findings, "clip_luminance");
  ASSERT_NE(light, nullptr);
  EXPECT_NEAR(light->value, 1000, 2);
  const auto* signal = find(findings, "clip_signal");
  // 700 asks for 787 cd/m2, 723 for 1004: the lowest code on the plateau is one of 701 ... 723.
  EXPECT_LE(signal->lower95, (722 - 64) / 876.0);
  EXPECT_GE(signal->upper95, (722 - 64) / 876.0);
  EXPECT_EQ(signal->parts["codes_in_question"].get<double>(), 23);
  const auto* roll_off = find(findings, "roll_off_start");
  ASSERT_NE(roll_off, nullptr);
  EXPECT_GT(roll_off->value, 1000);
  EXPECT_LT(roll_off->value, 1190) << "740 asks for 1178 cd/m2 and gets 15 % less";
}

TEST(Clip, ADisplayThatRisesToTheTopHasNone) {
  FakeMeter meter;
  const std::array runs{greyscale_run(meter, 20000, one)};
  const auto findings = must(evaluate(runs, usual_input()));
  EXPECT_EQ(find(findings, "clip_luminance"), nullptr);
  EXPECT_EQ(find(findings, "roll_off_start"), nullptr);
  EXPECT_EQ(find(findings, "eotf_mean_delta_e_itp")->parts["steps"].get<std::size_t>(), kCodes.size() - 1);
}

TEST(Eotf, HlgTargetIsForTheMeasuredPeakAndBlack) {
  // A display of 600 cd/m2 that follows HLG for its own peak and black has no difference, whatever 600 is read as.
  FakeMeter meter{.scale = 0.01};
  const signal::Encoding encoding{.transfer = signal::Transfer::hlg};
  const auto display = colour::hlg_display(colour::Luminance<>{.cdm2 = 600}, colour::Luminance<>{.cdm2 = 0.01});
  RunBuilder run("greyscale", meter);
  run.reference();
  for (int code : {64, 150, 250, 400, 502, 600, 721, 850, 931, 940}) {
    auto signal = grey_signal(code);
    signal.encoding = encoding;
    const auto cdm2 = colour::hlg_eotf_grey(colour::Signal<>{.value = (code - 64) / 876.0}, display);
    run.read("grey_" + std::to_string(code), signal, d65_light(cdm2.cdm2));
  }
  const std::array runs{run.reference().done()};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "eotf_mean_delta_e_itp");
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->method, "eotf-tracking/BT.2100-3-HLG");
  // Not 0: the system gamma belongs to the peak as read, and so carries a little of the scale into the dark steps.
  EXPECT_LT(f->value, 0.2);
  EXPECT_EQ(f->lower95, 0);
  EXPECT_NEAR(f->parts["target"]["peak_cdm2"].get<double>(), 606, 0.1);
  EXPECT_NEAR(f->parts["target"]["system_gamma"].get<double>(), 1.2 + 0.42 * std::log10(0.606), 1e-3);
  // The scale is common to target and light: what is left of it is the gamma's, and noise of the peak.
  EXPECT_LT(find(findings, "eotf_mean_luminance_part")->standard_uncertainty, 0.3) << "about 0.7 if it did not cancel";
}

TEST(Eotf, HlgWithoutPeakOrBlackHasNoTarget) {
  FakeMeter meter;
  RunBuilder run("greyscale", meter);
  auto signal = grey_signal(500);
  signal.encoding.transfer = signal::Transfer::hlg;
  run.read("grey_500", signal, d65_light(100));
  const std::array runs{run.done()};
  EXPECT_EQ(find(must(evaluate(runs, usual_input())), "eotf_mean_delta_e_itp"), nullptr);
}

TEST(Eotf, AStepWhoseCodeIsNotItsNameIsRefused) {
  FakeMeter meter;
  RunData data = greyscale_run(meter, 1000, one);
  for (auto& r : data.readings)
    if (r.step == "grey_509") r.signal.patch = {{510, 510, 510}};
  const std::array runs{data};
  const auto refused = evaluate(runs, usual_input());
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().message.find("grey_509"), std::string::npos);
  EXPECT_GE(refused.error().where.reading, 1000);
}

TEST(Decided, StopsWhenTheIntervalHasLeftTheLimitAndWhenRepeatsCannotHelp) {
  FakeMeter meter;
  const RunData run = greyscale_run(meter, 1000, [](int) { return 1.1; });
  const auto ask = [&](double limit) {
    store::QuestionRecord q{
        .quantity = "eotf_mean_delta_e_itp", .comparison = store::Comparison::at_most, .upper = limit};
    return decided(run.readings, "greyscale", std::array{q}, usual_input());
  };
  EXPECT_TRUE(ask(1));
  EXPECT_TRUE(ask(30));
  const store::QuestionRecord other{
      .quantity = "black_luminance", .comparison = store::Comparison::at_most, .upper = 1.0};
  EXPECT_FALSE(decided(run.readings, "greyscale", std::array{other}, usual_input()))
      << "nothing in this run answers it";
  EXPECT_FALSE(decided(run.readings, "greyscale", {}, usual_input()));
}

}  // namespace
}  // namespace provenit::evaluation
