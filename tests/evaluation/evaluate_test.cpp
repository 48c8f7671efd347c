#include "provenit/evaluation/evaluate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "light_source.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/difference.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {
namespace {

using Findings = std::vector<store::FindingRecord>;

Findings must(const Result<Findings>& r) {
  EXPECT_TRUE(r) << (r ? "" : r.error().text());
  return r.value_or(Findings{});
}

RunData window_run(
    FakeMeter& meter, std::function<double(double)> drift = [](double) { return 1.0; }) {
  RunBuilder run("window_peak", meter, std::move(drift));
  run.reference();
  for (int pass = 0; pass < 2; ++pass) {
    run.read("window_10", grey_signal(940), d65_light(1000));
    run.read("window_100", {.patch = {{940, 940, 940}}, .surround = {{940, 940, 940}}}, d65_light(600));
    run.reference();
  }
  return run.done();
}

RunData black_run(FakeMeter& meter, double cdm2, int repeats = 5) {
  RunBuilder run("black_level", meter);
  run.reference();
  for (int i = 0; i < repeats; ++i)
    run.read("black", {.patch = {{64, 64, 64}}, .surround = {{64, 64, 64}}}, d65_light(cdm2));
  return run.reference().done();
}

TEST(Peak, CertificateAndRepeatsMakeItsInterval) {
  FakeMeter meter;
  const std::array runs{window_run(meter)};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "peak_luminance", {{"window_percent", 10}});
  ASSERT_NE(f, nullptr);
  EXPECT_NEAR(f->value, 1000, 1e-9);
  // 1 % of scale; repeatability of 0.1 % twice over: two readings of the step, and the references.
  EXPECT_NEAR(f->standard_uncertainty, 10, 0.25);
  EXPECT_NEAR(f->upper95 - f->value, 1.96 * f->standard_uncertainty, 0.02 * f->standard_uncertainty);
  EXPECT_NE(f->dominant.find("luminance scale"), std::string::npos);
  EXPECT_GT(f->parts["variance"][0]["fraction"].get<double>(), 0.95);
  EXPECT_NEAR(std::fabs(f->parts["contributions"]["luminance_scale"].get<double>()), 10, 1e-6);
  EXPECT_EQ(f->unit, "cd/m2");
  EXPECT_FALSE(f->parts.contains("missing"));
  EXPECT_EQ(f->readings.size(), 2u + 3u);
  EXPECT_FALSE(f->method.empty());
  EXPECT_FALSE(f->sources.empty());
}

/// The same run as another one, so many seconds later.
RunData again(RunData run, store::Id id, nlohmann::json parameters) {
  run.run.id = id;
  run.run.started.unix_s += static_cast<double>(id);
  run.run.parameters = std::move(parameters);
  return run;
}

TEST(Runs, OneWithOtherParametersCountsBesideTheNewest) {
  FakeMeter meter;
  RunBuilder first("window_peak", meter), second("window_peak", meter);
  first.reference().read("window_10", grey_signal(940), d65_light(1000));
  first.read("window_100", {.patch = {{940, 940, 940}}, .surround = {{940, 940, 940}}}, d65_light(600)).reference();
  second.reference().read("window_10", grey_signal(940), d65_light(900)).reference();
  const auto peaks = [](const std::vector<RunData>& runs) {
    std::vector<double> out;
    for (const auto& f : must(evaluate(runs, usual_input())))
      if (f.quantity == "peak_luminance") out.push_back(std::round(f.value));
    std::ranges::sort(out);
    return out;
  };
  const nlohmann::json all{{"areas_percent", {10, 100}}}, ten{{"areas_percent", {10}}};
  const auto earlier = again(first.done(), 1, all);
  EXPECT_EQ(peaks({earlier, again(second.done(), 2, ten)}), (std::vector<double>{600, 900}));
  EXPECT_EQ(peaks({again(second.done(), 2, ten), earlier}), (std::vector<double>{600, 900})) << "order of no account";
  EXPECT_EQ(peaks({earlier, again(second.done(), 2, all)}), (std::vector<double>{900})) << "the same measurement anew";
  auto open = again(second.done(), 2, ten);
  open.run.state = store::RunState::open;
  EXPECT_EQ(peaks({earlier, open}), (std::vector<double>{600, 1000}));
}

TEST(Loading, InstrumentCancels) {
  FakeMeter meter{.scale = 0.03, .dx = 0.002};
  const std::array runs{window_run(meter)};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* loading = find(findings, "loading", {{"window_percent", 10}});
  ASSERT_NE(loading, nullptr);
  EXPECT_NEAR(loading->value, 100.0 * (1000.0 / 600 - 1), 1e-9);
  EXPECT_LT(loading->standard_uncertainty, 0.3) << "1 % of scale would be 1.7";
  EXPECT_NEAR(loading->parts["contributions"]["luminance_scale"].get<double>(), 0, 1e-9);
}

TEST(Drift, LinearDriftIsTakenOutExactly) {
  FakeMeter meter;
  const auto drift = [](double t) { return 1 - 0.0005 * t; };
  const std::array drifting{window_run(meter, drift)};
  const auto findings = must(evaluate(drifting, usual_input()));
  const double first = drift(0.5);
  EXPECT_NEAR(find(findings, "peak_luminance", {{"window_percent", 10}})->value, 1000 * first, 1e-9);
  EXPECT_NEAR(find(findings, "peak_luminance", {{"window_percent", 100}})->value, 600 * first, 1e-9);
}

TEST(Drift, CurvedDriftWidensTheIntervalEnoughToHoldTheTruth) {
  FakeMeter meter;
  const auto drift = [](double t) { return 1 - 0.03 * std::pow(t / 60, 2); };
  auto input = usual_input();
  input.certificate.luminance_expanded_relative = 0;
  const std::array curved{window_run(meter, drift)}, straight{window_run(meter)};
  const auto with = must(evaluate(curved, input)), without = must(evaluate(straight, input));
  const auto* f = find(with, "peak_luminance", {{"window_percent", 10}});
  EXPECT_GT(f->standard_uncertainty,
            1.5 * find(without, "peak_luminance", {{"window_percent", 10}})->standard_uncertainty);
  EXPECT_LE(f->lower95, 1000 * drift(0.5));
  EXPECT_GE(f->upper95, 1000 * drift(0.5));
}

TEST(Drift, WithoutReferencesItIsStatedAsMissing) {
  FakeMeter meter;
  RunBuilder run("window_peak", meter);
  run.read("window_10", grey_signal(940), d65_light(1000));
  const std::array runs{run.done()};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "peak_luminance");
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->parts["missing"], nlohmann::json::array({"drift"}));
  EXPECT_FALSE(f->parts["flags"].empty());
}

TEST(Drift, OrderOfReadingsBetweenTwoReferencesDoesNotMatterWithoutDrift) {
  FakeMeter meter;
  RunBuilder one("window_peak", meter), two("window_peak", meter);
  one.reference()
      .read("window_10", grey_signal(940), d65_light(1000))
      .read("window_1", grey_signal(939), d65_light(990));
  two.reference()
      .read("window_1", grey_signal(939), d65_light(990))
      .read("window_10", grey_signal(940), d65_light(1000));
  const std::array a{one.reference().done()}, b{two.reference().done()};
  const auto first = must(evaluate(a, usual_input())), second = must(evaluate(b, usual_input()));
  for (int percent : {1, 10}) {
    const auto* f = find(first, "peak_luminance", {{"window_percent", percent}});
    const auto* g = find(second, "peak_luminance", {{"window_percent", percent}});
    EXPECT_DOUBLE_EQ(f->value, g->value);
    // The place between the references only changes how their noise is weighed.
    EXPECT_NEAR(f->standard_uncertainty, g->standard_uncertainty, 5e-3 * f->standard_uncertainty);
  }
}

TEST(Repeatability, FewRepeatsLeanOnTheCapabilitiesManyOnThemselves) {
  // A meter 0.7 times as noisy as it claims: the pooled factor moves from the claim towards 0.7.
  auto input = usual_input();
  const auto factor_for = [&](int repeats) {
    FakeMeter meter{.relative = 0.0007, .random = std::mt19937_64(3)};
    RunBuilder run("white_point", meter);
    for (int i = 0; i < repeats; ++i) run.read("white", grey_signal(573), d65_light(200));
    const std::array runs{run.done()};
    return model_light(runs, input)->bright;
  };
  EXPECT_DOUBLE_EQ(factor_for(1).factor, 1);
  EXPECT_DOUBLE_EQ(factor_for(1).degrees_of_freedom, 8);
  EXPECT_DOUBLE_EQ(factor_for(3).degrees_of_freedom, 10);
  EXPECT_NEAR(factor_for(400).factor, 0.7, 0.05);
  EXPECT_FALSE(factor_for(400).prior_dropped);
}

TEST(Repeatability, AClaimThatTheReadingsContradictIsDropped) {
  FakeMeter meter{.relative = 0.02, .random = std::mt19937_64(3)};
  RunBuilder run("white_point", meter);
  for (int i = 0; i < 10; ++i) run.read("white", grey_signal(573), d65_light(200));
  const std::array runs{run.done()};
  const auto light = model_light(runs, usual_input());
  ASSERT_TRUE(light);
  EXPECT_TRUE(light->bright.prior_dropped);
  EXPECT_DOUBLE_EQ(light->bright.degrees_of_freedom, 9);
  EXPECT_NEAR(light->bright.factor, 20, 10);
}

TEST(Black, NearTheFloorTheIntervalIsCutAtZero) {
  FakeMeter meter{.zero = {-0.0004, -0.0004, -0.0004}};
  const std::array runs{black_run(meter, 0.0001)};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "black_luminance");
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->value, 0);
  EXPECT_NEAR(f->parts["as_read"].get<double>(), -0.0003, 1e-9);
  EXPECT_EQ(f->lower95, 0);
  EXPECT_GE(f->upper95, 0.0001);
}

TEST(Contrast, ScaleCancelsAndADarkDenominatorOpensTheUpperEnd) {
  FakeMeter meter{.scale = 0.02};
  const std::array bright{window_run(meter), black_run(meter, 0.5)};
  const auto findings = must(evaluate(bright, usual_input()));
  const auto* f = find(findings, "sequential_contrast", {{"window_percent", 10}});
  ASSERT_NE(f, nullptr);
  EXPECT_NEAR(f->value, 2000, 1e-6);
  EXPECT_LT(f->standard_uncertainty / f->value, 0.003) << "1 % of scale must cancel";
  EXPECT_NEAR(f->parts["contributions"]["luminance_scale"].get<double>(), 0, 1e-6);

  const std::array dark{window_run(meter), black_run(meter, 0.0002)};
  const auto open_findings = must(evaluate(dark, usual_input()));
  const auto* open = find(open_findings, "sequential_contrast", {{"window_percent", 10}});
  ASSERT_NE(open, nullptr);
  EXPECT_TRUE(std::isinf(open->upper95));
  EXPECT_GT(open->lower95, 1e5);
  EXPECT_LT(open->lower95, 5e6);
  EXPECT_LE(open->lower95, open->value);
}

TEST(Contrast, FiellersIntervalIsThatOfTheRatioWhenTheBlackIsSure) {
  FakeMeter meter;
  RunBuilder run("checkerboard", meter);
  const signal::Geometry squares{.shape = signal::Shape::checkerboard, .columns = 5, .rows = 5};
  run.reference();
  for (int i = 0; i < 4; ++i) {
    run.read("check_white", {.patch = {{940, 940, 940}}, .surround = {{64, 64, 64}}, .geometry = squares},
             d65_light(900));
    run.read("check_black", {.patch = {{64, 64, 64}}, .surround = {{940, 940, 940}}, .geometry = squares},
             d65_light(1));
  }
  const std::array runs{run.reference().done()};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "checkerboard_contrast", {{"columns", 5}, {"rows", 5}});
  ASSERT_NE(f, nullptr);
  EXPECT_NEAR(f->value, 900, 1e-9);
  const double half = (f->upper95 - f->lower95) / 2;
  EXPECT_NEAR(half / f->standard_uncertainty, 2.0, 0.15);
}

TEST(WhitePoint, MatchesHandPropagationAndMonteCarlo) {
  FakeMeter meter;
  RunBuilder run("white_point", meter);
  run.reference();
  for (int i = 0; i < 3; ++i)
    run.read("white", grey_signal(573),
             colour::xyz_from_xy(colour::Xy<>{.x = 0.310, .y = 0.331}, colour::Luminance<>{.cdm2 = 200}));
  const std::array runs{run.reference().done()};
  auto input = usual_input(40000);
  input.capabilities.repeatability_relative = 1e-6;
  input.capabilities.noise_floor_cdm2 = 1e-7;
  const auto findings = must(evaluate(runs, input));
  const auto uv = colour::uv_prime_from_xy(colour::Xy<>{.x = 0.310, .y = 0.331});
  const auto* u = find(findings, "white_u_prime");
  const auto* v = find(findings, "white_v_prime");
  EXPECT_NEAR(u->value, uv.u, 1e-12);
  EXPECT_NEAR(v->value, uv.v, 1e-12);
  // Certificate alone: u(x) = u(y) = 0.00075 at a white close by. du' = (4 - 8...) by finite differences.
  const auto moved = [&](double dx, double dy) {
    return colour::uv_prime_from_xy(colour::Xy<>{.x = 0.310 + dx, .y = 0.331 + dy});
  };
  const double h = 1e-6;
  const double ux = (moved(h, 0).u - uv.u) / h, uy = (moved(0, h).u - uv.u) / h;
  EXPECT_NEAR(u->standard_uncertainty, 0.00075 * std::hypot(ux, uy), 0.02 * u->standard_uncertainty);
  const auto* cct = find(findings, "white_cct");
  const auto exact = colour::solve_cct(colour::uv1960_from_uv_prime(uv));
  ASSERT_TRUE(exact);
  EXPECT_NEAR(cct->value, exact->cct_kelvin, 1e-6);
  // Linear against Monte Carlo: the length's own sample is not needed, u' and v' give the covariance.
  const auto* delta = find(findings, "white_delta_uv");
  const auto target = colour::uv_prime_from_xy(colour::d65_video);
  EXPECT_NEAR(delta->value, std::hypot(uv.u - target.u, uv.v - target.v), 1e-9);
  const auto& region = delta->series[0];
  EXPECT_NEAR(region["covariance"][0].get<double>(), u->standard_uncertainty * u->standard_uncertainty, 1e-12);
  EXPECT_NEAR(region["region95_squared_radius"].get<double>(), 5.99, 0.02);
  EXPECT_EQ(region["ellipse95"].size(), 48u);
  const double along = std::hypot(uv.u - target.u, uv.v - target.v);
  EXPECT_LT(delta->lower95, along);
  EXPECT_GT(delta->upper95, along);
}

TEST(WhitePoint, ChromaticityPartIsTheLibrarysAtEqualLuminance) {
  FakeMeter meter;
  RunBuilder run("white_point", meter);
  const auto light = colour::xyz_from_xy(colour::Xy<>{.x = 0.320, .y = 0.335}, colour::Luminance<>{.cdm2 = 200});
  run.read("white", grey_signal(573), light);
  const std::array runs{run.done()};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto expected = colour::itp_difference(d65_light(200), light);
  EXPECT_NEAR(find(findings, "white_delta_e_itp_chromaticity")->parts["as_read"].get<double>(), expected.chromaticity,
              1e-9);
  EXPECT_NEAR(expected.luminance, 0, 1e-6);
}

TEST(Primaries, PerfectBt2020CoversItselfAndAdds) {
  FakeMeter meter;
  RunBuilder run("primaries", meter);
  const auto to_xyz = colour::rgb_to_xyz_matrix(colour::bt2020_primaries);
  const auto patch = [&](double r, double g, double b) {
    return colour::xyz_from_rgb(colour::AbsoluteRgb<>{.r = r, .g = g, .b = b}, to_xyz);
  };
  run.reference();
  for (int i = 0; i < 2; ++i) {
    run.read("red", {.patch = {{573, 64, 64}}}, patch(200, 0, 0));
    run.read("green", {.patch = {{64, 573, 64}}}, patch(0, 200, 0));
    run.read("blue", {.patch = {{64, 64, 573}}}, patch(0, 0, 200));
    run.read("white", grey_signal(573), patch(200, 200, 200));
    run.read("black", grey_signal(64), patch(0, 0, 0));
  }
  const std::array runs{run.reference().done()};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* own = find(findings, "gamut_coverage", {{"reference", "bt2020"}, {"plane", "uv"}});
  ASSERT_NE(own, nullptr);
  EXPECT_NEAR(own->value, 100, 1e-6);
  EXPECT_LE(own->upper95, 100 + 1e-9) << "no display covers more than all of it";
  EXPECT_LT(own->lower95, 100);
  EXPECT_EQ(own->series.size(), 4u);
  EXPECT_NEAR(find(findings, "gamut_area_ratio", {{"reference", "bt709"}, {"plane", "xy"}})->value,
              100 * 0.211867 / 0.11205, 0.01);
  EXPECT_NEAR(find(findings, "additivity_error")->value, 0, 1e-6);
  EXPECT_NEAR(find(findings, "additivity_error")->parts["contributions"]["luminance_scale"].get<double>(), 0, 1e-6);
  const auto* red = find(findings, "primary_delta_uv", {{"primary", "red"}});
  EXPECT_EQ(red->lower95, 0);
  EXPECT_GT(red->upper95, 0.0005);
}

TEST(WarmUp, SettlingAndResidualDrift) {
  FakeMeter meter{.relative = 0.0002, .random = std::mt19937_64(9)};
  // An exponential that is within 0.5 % of its end from about 277 s on, plus a slow 0.36 %/h.
  RunBuilder run("warm_up", meter, [](double t) { return 1 - 0.08 * std::exp(-t / 100) - 1e-6 * t; });
  for (int i = 0; i < 200; ++i) run.reference();
  auto data = run.done();
  data.run.parameters = {{"tolerances_percent", {0.5, 2.0}}, {"window_s", 900}};
  const std::array runs{data};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* settle = find(findings, "settle_time", {{"tolerance_percent", 0.5}});
  ASSERT_NE(settle, nullptr);
  EXPECT_NEAR(settle->value, 260, 25);
  EXPECT_LE(settle->lower95, settle->value);
  // Within 2 % from 138 s on.
  const auto* roughly = find(findings, "settle_time", {{"tolerance_percent", 2.0}});
  ASSERT_NE(roughly, nullptr);
  EXPECT_NEAR(roughly->value, 138, 25);
  const auto* drift = find(findings, "drift");
  ASSERT_NE(drift, nullptr);
  EXPECT_LE(drift->lower95, -0.36);
  EXPECT_GE(drift->upper95, -0.36);
  EXPECT_EQ(drift->series.size(), 200u);
}

TEST(BadInput, NamesTheReading) {
  FakeMeter meter;
  const auto refused = [&](auto&& spoil) {
    RunData data = window_run(meter);
    spoil(data);
    const std::array runs{data};
    const auto r = evaluate(runs, usual_input());
    EXPECT_FALSE(r);
    return r ? Error{} : r.error();
  };
  const auto saturated = refused([](RunData& d) { d.readings[1].measurement.saturated = true; });
  EXPECT_EQ(saturated.where.reading, 1001);
  EXPECT_NE(saturated.message.find("window_10"), std::string::npos);
  EXPECT_EQ(refused([](RunData& d) { d.readings[2].measurement.xyz.Z = std::nan(""); }).where.reading, 1002);
  EXPECT_EQ(refused([](RunData& d) { d.readings[0].measurement.xyz.Y = 0; }).where.reading, 1000);
  EXPECT_EQ(refused([](RunData& d) { d.readings[4].signal.patch.code[0] = 900; }).where.reading, 1004);
  const std::array runs{window_run(meter)};
  auto input = usual_input();
  input.certificate.coverage_factor = 0;
  EXPECT_EQ(evaluate(runs, input).error().where.field, "coverage_factor");
  input = usual_input();
  input.certificate.x_expanded = -1;
  EXPECT_EQ(evaluate(runs, input).error().where.field, "x_expanded");
  input = usual_input(10);
  EXPECT_FALSE(evaluate(runs, input));
}

TEST(Runs, TheLatestFinishedOneCountsAndAbortedOnesDoNot) {
  FakeMeter meter;
  RunData old = window_run(meter), newer = old, aborted = old, open = old;
  old.run.started = {1};
  newer.run.started = {2};
  for (auto& r : newer.readings) r.measurement.xyz.Y *= r.step == "reference" ? 1.0 : 1.1;
  aborted.run.started = {4};
  aborted.run.state = store::RunState::aborted;
  open.run.started = {3};
  open.run.state = store::RunState::open;
  const std::array runs{old, newer, open, aborted};
  const auto findings = must(evaluate(runs, usual_input()));
  EXPECT_NEAR(find(findings, "peak_luminance", {{"window_percent", 10}})->value, 1100, 1e-9);
}

TEST(Findings, AreInCatalogueOrderAndReproducible) {
  FakeMeter meter{.relative = 0.001};
  const std::array runs{window_run(meter), black_run(meter, 0.05)};
  const auto one = must(evaluate(runs, usual_input())), two = must(evaluate(runs, usual_input()));
  ASSERT_EQ(one.size(), two.size());
  EXPECT_EQ(one.front().quantity, "black_luminance");
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].lower95, two[i].lower95);
    EXPECT_EQ(one[i].parts, two[i].parts);
  }
}

TEST(BelowRange, IsKeptAndFlagged) {
  FakeMeter meter;
  RunData data = black_run(meter, 0.002);
  data.readings[1].measurement.below_range = true;
  const std::array runs{data};
  const auto findings = must(evaluate(runs, usual_input()));
  const auto* f = find(findings, "black_luminance");
  EXPECT_NEAR(f->value, 0.002, 1e-9);
  EXPECT_NE(f->parts["flags"].dump().find("1 of 5"), std::string::npos);
}

}  // namespace
}  // namespace provenit::evaluation
