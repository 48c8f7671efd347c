// The 95 % intervals of the colour methods hold what is true of simulated displays: the small, seeded form of
// benchmarks/coverage_colour.cpp.
#include <gtest/gtest.h>

#include "colour_loans.h"
#include "light_source.h"

namespace provenit::evaluation {
namespace {

/// Of 40 intervals that hold the truth with 95 %, fewer than 34 do so once in 400 cases; of 20, fewer than 16 as
/// rarely.
struct Trials {
  int loans, fewest;
};
constexpr Trials kMany{40, 34}, kFew{20, 16};

struct Asked {
  const char* quantity;
  nlohmann::json conditions;
  std::function<double(const bench::ColourLoan&)> truth;
};

void expect_coverage(const Trials& trials, const std::string& procedure, const nlohmann::json& parameters,
                     const std::vector<Asked>& asked) {
  std::vector<int> held(asked.size());
  for (int i = 0; i < trials.loans; ++i) {
    const auto loan =
        bench::colour_loan(static_cast<std::uint64_t>(i) + 7001, procedure, {.parameters = parameters, .draws = 300});
    const auto findings = evaluate(loan.runs, loan.input);
    ASSERT_TRUE(findings) << findings.error().text();
    for (std::size_t k = 0; k < asked.size(); ++k) {
      const auto* f = find(*findings, asked[k].quantity, asked[k].conditions);
      ASSERT_NE(f, nullptr) << asked[k].quantity;
      const double truth = asked[k].truth(loan);
      held[k] += f->lower95 - 1e-9 <= truth && truth <= f->upper95 + 1e-9;
    }
  }
  for (std::size_t k = 0; k < asked.size(); ++k)
    EXPECT_GE(held[k], trials.fewest) << asked[k].quantity << asked[k].conditions;
}

using Loan = bench::ColourLoan;
const nlohmann::json kNone = nlohmann::json::object();

TEST(ColourCoverage, VolumeAndSet) {
  expect_coverage(kFew, "colour_volume", {{"patches", 20}, {"additivity_tolerance_percent", 1000.0}},
                  {{"colour_volume", {{"space", "ictcp"}}, bench::true_itp_volume},
                   {"colour_volume", {{"space", "lab"}}, bench::true_lab_volume},
                   {"volume_mean_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "set_").mean; }},
                   {"volume_p95_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "set_").p95; }}});
}

TEST(ColourCoverage, SurfaceThatWasRead) {
  expect_coverage(
      kFew, "colour_volume", {{"patches", 2}, {"additivity_tolerance_percent", 0.0}, {"surface_samples", 3}},
      {{"colour_volume", {{"space", "ictcp"}}, [](const Loan& l) { return bench::true_read_volume(l, 3, true); }}});
}

TEST(ColourCoverage, NearBlackAndSteps) {
  expect_coverage(
      kMany, "near_black", kNone,
      {{"near_black_mean_luminance_part", kNone,
        [](const Loan& l) { return bench::true_near_black(l).mean_luminance_part; }},
       {"near_black_max_delta_uv", kNone, [](const Loan& l) { return bench::true_near_black(l).max_delta_uv; }},
       {"near_black_first_code", kNone, [](const Loan& l) { return bench::true_near_black(l).first_code; }},
       {"near_black_reversals", kNone, [](const Loan& l) { return bench::true_near_black(l).reversals; }}});
  expect_coverage(
      kMany, "step_resolution", {{"levels_cdm2", {1.0}}},
      {{"steps_resolved", {{"level_cdm2", 1.0}}, [](const Loan& l) { return bench::true_resolved(l, 1.0); }}});
}

TEST(ColourCoverage, Hue) {
  expect_coverage(kMany, "hue_linearity", kNone,
                  {{"hue_linearity_error",
                    {{"colour", "red"}},
                    [](const Loan& l) { return bench::true_hue_change(l, "red", true); }},
                   {"hue_linearity_error", {{"colour", "blue"}}, [](const Loan& l) {
                      return bench::true_hue_change(l, "blue", true);
                    }}});
  expect_coverage(kMany, "clip_hue", kNone,
                  {{"clip_hue_shift",
                    {{"colour", "yellow"}},
                    [](const Loan& l) { return bench::true_hue_change(l, "yellow", false); }},
                   {"clip_hue_shift", {{"colour", "skin"}}, [](const Loan& l) {
                      return bench::true_hue_change(l, "skin", false);
                    }}});
}

TEST(ColourCoverage, WhiteTracking) {
  expect_coverage(kMany, "greyscale", kNone, {{"white_tracking_max_delta_uv", kNone, bench::true_white_tracking}});
}

}  // namespace
}  // namespace provenit::evaluation
