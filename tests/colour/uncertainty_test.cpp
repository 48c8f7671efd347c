#include "provenit/colour/uncertainty.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numeric>
#include <vector>

#include "provenit/colour/scalar.h"

namespace provenit::colour {
namespace {

static_assert(Scalar<Uncertain>);

// The three examples of JCGM 100:2008, Annex H. Input tables and results were seen as quoted by open uncertainty
// packages (their test suites and data sets); clauses and rounding are the document's.
TEST(GumExamples, H1EndGauge) {
  Sources sources;
  const auto type_a = [&](const char* name, double u, double nu) {
    return sources.add({.name = name, .standard_uncertainty = u, .pool = sources.add_pool(nu)});
  };
  const auto type_b = [&](const char* name, double u) {
    return sources.add({.name = name, .standard_uncertainty = u, .distribution = Distribution::rectangular});
  };
  // Lengths in nm, temperatures in degrees Celsius.
  const Uncertain l_s(50000623, type_a("standard's length", 25, 18));
  const Uncertain d(215, type_a("comparison", 9.7, 25.6));
  const Uncertain alpha(11.5e-6, type_b("expansion", 1.2e-6));
  const Uncertain theta(-0.1, type_b("temperature", 0.41));
  const Uncertain delta_alpha(0, type_a("difference of expansions", 0.58e-6, 50));
  const Uncertain delta_theta(0, type_a("difference of temperatures", 0.029, 2));
  const Uncertain l = l_s + d - l_s * (delta_alpha * theta + alpha * delta_theta);

  EXPECT_DOUBLE_EQ(l.value(), 50000838);
  const LinearResult r = linear_result(l, sources, 0.99);
  EXPECT_EQ(std::lround(r.standard_uncertainty), 32);
  EXPECT_EQ(std::floor(r.degrees_of_freedom.value), 16);
  EXPECT_FALSE(r.degrees_of_freedom.approximate);
  EXPECT_NEAR(student_factor(16, 0.99), 2.92, 0.005);
  EXPECT_EQ(std::lround(student_factor(16, 0.99) * 32), 93);  // the document rounds before it multiplies
  // Table H.1: contributions |c_i| u_i of 25, 9.7, 2.9 and 16.6 nm; none from alpha and theta.
  const auto shares = variance_shares(l, sources);
  EXPECT_EQ(shares[0].name, "standard's length");
  EXPECT_NEAR(std::sqrt(shares[0].variance), 25, 0.05);
  EXPECT_EQ(shares[1].name, "difference of temperatures");
  EXPECT_NEAR(std::sqrt(shares[1].variance), 16.6, 0.1);
  EXPECT_NEAR(std::sqrt(shares[2].variance), 9.7, 0.05);
  EXPECT_NEAR(std::sqrt(shares[3].variance), 2.9, 0.05);
  EXPECT_EQ(shares[4].variance, 0);
}

TEST(GumExamples, H2ResistanceAndReactanceFromSimultaneousReadings) {
  // Table H.2: five sets of voltage (V), current (A), phase (rad), read together and so correlated.
  constexpr int n = 5;
  const std::array<std::array<double, n>, 3> read{{{5.007, 4.994, 5.005, 4.990, 4.999},
                                                   {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
                                                   {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}}};
  std::array<double, 3> means{}, u{};
  std::vector<double> r(9);
  for (int i = 0; i < 3; ++i) {
    means[i] = mean(read[i]);
    u[i] = standard_deviation(read[i]) / std::sqrt(n);
  }
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      double sum = 0;
      for (int k = 0; k < n; ++k) sum += (read[i][k] - means[i]) * (read[j][k] - means[j]);
      r[3 * i + j] = i == j ? 1 : sum / (n * (n - 1)) / (u[i] * u[j]);
    }
  EXPECT_NEAR(r[1], -0.36, 0.005);
  EXPECT_NEAR(r[2], 0.86, 0.005);
  EXPECT_NEAR(r[5], -0.65, 0.006);
  Sources sources;
  const PoolId pool = sources.add_pool(n - 1);
  const std::array<Source, 3> inputs{{{.name = "voltage", .standard_uncertainty = u[0], .pool = pool},
                                      {.name = "current", .standard_uncertainty = u[1], .pool = pool},
                                      {.name = "phase", .standard_uncertainty = u[2], .pool = pool}}};
  const auto first = sources.add_correlated(inputs, r);
  ASSERT_TRUE(first) << first.error().text();
  const Uncertain v(means[0], *first), i(means[1], *first + 1), phi(means[2], *first + 2);
  const Uncertain resistance = v / i * cos(phi), reactance = v / i * sin(phi), impedance = v / i;
  // Table H.4.
  EXPECT_NEAR(resistance.value(), 127.732, 5e-4);
  EXPECT_NEAR(standard_uncertainty(resistance, sources), 0.071, 5e-4);
  EXPECT_NEAR(reactance.value(), 219.847, 5e-4);
  EXPECT_NEAR(standard_uncertainty(reactance, sources), 0.295, 1e-3);  // 0.2956, printed as 0.295
  EXPECT_NEAR(impedance.value(), 254.260, 5e-4);
  EXPECT_NEAR(standard_uncertainty(impedance, sources), 0.236, 5e-4);
  EXPECT_NEAR(correlation(resistance, reactance, sources), -0.588, 5e-4);
  EXPECT_NEAR(correlation(resistance, impedance, sources), -0.485, 5e-4);
  EXPECT_NEAR(correlation(reactance, impedance, sources), 0.993, 5e-4);
  // One variance estimate behind all three: its own degrees of freedom, exactly.
  EXPECT_NEAR(effective_degrees_of_freedom(impedance, sources).value, 4, 1e-9);
  // The shares add up to the whole, whatever the correlations do.
  double sum = 0;
  for (const auto& share : variance_shares(reactance, sources)) sum += share.fraction;
  EXPECT_NEAR(sum, 1, 1e-12);
}

TEST(GumExamples, H3CalibrationLineOfAThermometer) {
  // Table H.6: readings and observed corrections, degrees Celsius; line through them about 20 degrees.
  constexpr std::array t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511};
  constexpr std::array b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160};
  const std::size_t n = t.size();
  double st = 0, stt = 0, sb = 0, stb = 0;
  for (std::size_t k = 0; k < n; ++k) {
    const double x = t[k] - 20;
    st += x, stt += x * x, sb += b[k], stb += x * b[k];
  }
  const double d = static_cast<double>(n) * stt - st * st;
  const double intercept = (sb * stt - stb * st) / d, slope = (static_cast<double>(n) * stb - sb * st) / d;
  double ss = 0;
  for (std::size_t k = 0; k < n; ++k) ss += std::pow(b[k] - intercept - slope * (t[k] - 20), 2);
  const double s = std::sqrt(ss / static_cast<double>(n - 2));
  EXPECT_NEAR(s, 0.0035, 5e-5);

  // The fit as a linear function of the observations, each with the pooled s: Uncertain must find the same covariance.
  Sources sources;
  const PoolId pool = sources.add_pool(static_cast<double>(n - 2));
  Uncertain y1 = 0, y2 = 0;
  for (std::size_t k = 0; k < n; ++k) {
    const Uncertain bk(b[k], sources.add({.name = "observations", .standard_uncertainty = s, .pool = pool}));
    const double x = t[k] - 20;
    y1 += bk * ((stt - x * st) / d);
    y2 += bk * ((static_cast<double>(n) * x - st) / d);
  }
  EXPECT_NEAR(y1.value(), -0.1712, 5e-5);
  EXPECT_NEAR(standard_uncertainty(y1, sources), 0.0029, 5e-5);
  EXPECT_NEAR(y2.value(), 0.00218, 5e-6);
  EXPECT_NEAR(standard_uncertainty(y2, sources), 0.00067, 5e-6);
  EXPECT_NEAR(correlation(y1, y2, sources), -0.930, 5e-4);
  const Uncertain at_30 = y1 + y2 * 10.0;
  EXPECT_NEAR(at_30.value(), -0.1494, 5e-5);
  EXPECT_NEAR(standard_uncertainty(at_30, sources), 0.0041, 5e-5);
  EXPECT_NEAR(effective_degrees_of_freedom(at_30, sources).value, 9, 1e-9);
}

TEST(Uncertain, WhatIsCommonCancels) {
  Sources sources;
  const SourceId scale = sources.add({.name = "scale", .standard_uncertainty = 0.01});
  const SourceId noise_a = sources.add({.name = "noise", .standard_uncertainty = 0.5});
  const SourceId noise_b = sources.add({.name = "noise", .standard_uncertainty = 0.02});
  const Uncertain gain(1, scale);
  const Uncertain white = (1000 + Uncertain(0, noise_a)) / gain, black = (1 + Uncertain(0, noise_b)) / gain;
  EXPECT_NEAR(standard_uncertainty(white, sources) / 1000, std::hypot(0.01, 0.0005), 1e-12);
  EXPECT_NEAR(standard_uncertainty(white / black, sources) / 1000, std::hypot(0.0005, 0.02), 1e-12);
  EXPECT_EQ(standard_uncertainty(white - white, sources), 0);
  EXPECT_EQ((white / white).value(), 1);
  EXPECT_NEAR(standard_uncertainty(white / white, sources), 0, 1e-15);
  EXPECT_NEAR((white - 1000.0 * gain * 0.5).derivative(scale), -1500, 1e-9);
}

TEST(Uncertain, FunctionsHaveTheSlopesOfFiniteDifferences) {
  Sources sources;
  const SourceId a = sources.add({.name = "a"}), b = sources.add({.name = "b"});
  using F = Uncertain (*)(const Uncertain&, const Uncertain&);
  const std::array<F, 18> functions{[](const Uncertain& x, const Uncertain&) { return exp(x); },
                                    [](const Uncertain& x, const Uncertain&) { return log(x); },
                                    [](const Uncertain& x, const Uncertain&) { return log2(x); },
                                    [](const Uncertain& x, const Uncertain&) { return log10(x); },
                                    [](const Uncertain& x, const Uncertain&) { return sqrt(x); },
                                    [](const Uncertain& x, const Uncertain&) { return cbrt(x); },
                                    [](const Uncertain& x, const Uncertain&) { return pow(x, 1.7); },
                                    [](const Uncertain& x, const Uncertain& y) { return pow(x, y); },
                                    [](const Uncertain& x, const Uncertain&) { return pow(2.5, x); },
                                    [](const Uncertain& x, const Uncertain&) { return sin(x); },
                                    [](const Uncertain& x, const Uncertain&) { return cos(x); },
                                    [](const Uncertain& x, const Uncertain&) { return tan(x); },
                                    [](const Uncertain& x, const Uncertain&) { return atan(x); },
                                    [](const Uncertain& x, const Uncertain& y) { return atan2(x, y); },
                                    [](const Uncertain& x, const Uncertain& y) { return hypot(x, y); },
                                    [](const Uncertain& x, const Uncertain& y) { return fabs(x - 3.0 * y); },
                                    [](const Uncertain& x, const Uncertain& y) { return x / y - y * x; },
                                    [](const Uncertain& x, const Uncertain& y) { return fmax(x, y) * fmin(x, y); }};
  const double x = 0.8, y = 1.3, h = 1e-6;
  for (std::size_t i = 0; i < functions.size(); ++i) {
    const auto f = functions[i];
    const Uncertain both = f(Uncertain(x, a), Uncertain(y, b));
    EXPECT_NEAR(both.derivative(a), (f(x + h, y).value() - f(x - h, y).value()) / (2 * h), 1e-8) << i;
    EXPECT_NEAR(both.derivative(b), (f(x, y + h).value() - f(x, y - h).value()) / (2 * h), 1e-8) << i;
  }
}

TEST(Uncertain, ComparesByValueAlone) {
  const Uncertain a(1, 0, 5), b(1, 1, 7);
  EXPECT_TRUE(a == b);
  EXPECT_TRUE(a < 2.0 && a <= 1.0 && a >= 1.0 && a > 0.5);
  EXPECT_FALSE(a < std::nan("") || a > std::nan(""));
}

TEST(Correlation, ChromaticityFromTristimulusRows) {
  // Rows unc-xy-01 and -02 of the reference table (first order, analytic Jacobian).
  struct Row {
    std::array<double, 3> xyz, u, r, expected;
  };
  for (const Row& row :
       {Row{{95, 100, 108}, {0.95, 1, 1.08}, {0, 0, 0}, {0.00263666139802, 0.00270989866702, -0.447922467061}},
        {{40, 20, 2}, {0.4, 0.2, 0.05}, {0.9, 0.5, 0.6}, {0.00117267717686, 0.00092048938673, -0.824570482184}}}) {
    Sources sources;
    std::array<Source, 3> inputs;
    for (int i = 0; i < 3; ++i) inputs[i] = {.name = "XYZ", .standard_uncertainty = row.u[i]};
    const std::array<double, 9> r{1,        row.r[0], row.r[1],  //
                                  row.r[0], 1,        row.r[2],  //
                                  row.r[1], row.r[2], 1};
    const auto first = sources.add_correlated(inputs, r);
    ASSERT_TRUE(first);
    const Uncertain X(row.xyz[0], *first), Y(row.xyz[1], *first + 1), Z(row.xyz[2], *first + 2);
    const Uncertain x = X / (X + Y + Z), y = Y / (X + Y + Z);
    EXPECT_NEAR(standard_uncertainty(x, sources), row.expected[0], 1e-10);
    EXPECT_NEAR(standard_uncertainty(y, sources), row.expected[1], 1e-10);
    EXPECT_NEAR(correlation(x, y, sources), row.expected[2], 1e-10);
  }
}

TEST(Correlation, RefusesWhatIsNoCorrelationMatrix) {
  Sources sources;
  const std::array<Source, 2> two{{{.name = "a"}, {.name = "b"}}};
  for (const std::array<double, 4>& bad :
       {std::array<double, 4>{1, 0.5, 0.4, 1}, {1, 1.5, 1.5, 1}, {2, 0, 0, 1}, {1, std::nan(""), 0, 1}})
    EXPECT_FALSE(sources.add_correlated(two, bad));
  EXPECT_FALSE(sources.add_correlated(two, std::array{1.0}));
  const std::array<Source, 2> rectangular{{{.name = "a"}, {.name = "b", .distribution = Distribution::rectangular}}};
  const auto refused = sources.add_correlated(rectangular, std::array{1.0, 0.0, 0.0, 1.0});
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().message.find("'b'"), std::string::npos);
  EXPECT_EQ(sources.size(), 0u);
  EXPECT_TRUE(sources.add_correlated(two, std::array{1.0, 1.0, 1.0, 1.0})) << "fully correlated is allowed";
}

TEST(DegreesOfFreedom, SaysWhenCorrelationMakesThemApproximate) {
  Sources sources;
  const std::array<Source, 2> mixed{{{.name = "a", .standard_uncertainty = 1, .pool = sources.add_pool(4)},
                                     {.name = "b", .standard_uncertainty = 1, .pool = sources.add_pool(40)}}};
  const auto first = sources.add_correlated(mixed, std::array{1.0, 0.5, 0.5, 1.0});
  ASSERT_TRUE(first);
  const auto dof = effective_degrees_of_freedom(Uncertain(0, *first) + Uncertain(0, *first + 1), sources);
  EXPECT_TRUE(dof.approximate);
  EXPECT_DOUBLE_EQ(dof.value, 4);
  // Independent: 2 sources of variance 1 with 4 and 40 degrees of freedom.
  const SourceId c = sources.add({.name = "c", .standard_uncertainty = 1, .pool = mixed[0].pool});
  const SourceId d = sources.add({.name = "d", .standard_uncertainty = 1, .pool = mixed[1].pool});
  const auto independent = effective_degrees_of_freedom(Uncertain(0, c) + Uncertain(0, d), sources);
  EXPECT_FALSE(independent.approximate);
  EXPECT_NEAR(independent.value, 4 / (1.0 / 4 + 1.0 / 40), 1e-12);
  EXPECT_TRUE(std::isinf(effective_degrees_of_freedom(Uncertain(3.0), sources).value));
  EXPECT_NEAR(type_b_degrees_of_freedom(0.25), 8, 1e-12);  // JCGM 100:2008, G.4.2, example
}

}  // namespace
}  // namespace provenit::colour
