// Uncertainty carried through the colour formulas: first order against Monte Carlo of the same sources.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <functional>

#include "provenit/colour/cct.h"
#include "provenit/colour/chromaticity_uncertainty.h"
#include "provenit/colour/ictcp.h"
#include "provenit/colour/monte_carlo.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::colour {
namespace {

/// A reading of 200 cd/m2 near D65 with correlated errors of 1 % in X, Y, Z.
struct Reading {
  Sources sources;
  AbsoluteXyz<Uncertain> xyz;

  explicit Reading(const AbsoluteXyz<>& at, double relative = 0.01) {
    const std::array<Source, 3> inputs{{{.name = "X", .standard_uncertainty = relative * at.X},
                                        {.name = "Y", .standard_uncertainty = relative * at.Y},
                                        {.name = "Z", .standard_uncertainty = relative * at.Z}}};
    const std::array<double, 9> r{1, 0.95, 0.9, 0.95, 1, 0.92, 0.9, 0.92, 1};
    const SourceId first = sources.add_correlated(inputs, r).value();
    xyz = {.X = Uncertain(at.X, first), .Y = Uncertain(at.Y, first + 1), .Z = Uncertain(at.Z, first + 2)};
  }
};

template <class T>
std::array<T, 3> lab_of(const AbsoluteXyz<T>& c) {
  const AbsoluteXyz<> white{.X = 950.456, .Y = 1000, .Z = 1089.058};
  const auto lab = lab_from_xyz(c, white);
  return {lab.L, lab.a, lab.b};
}
template <class T>
std::array<T, 3> uv_of(const AbsoluteXyz<T>& c) {
  const auto uv = uv_prime_from_xyz(c);
  return {uv.u, uv.v, uv.u + uv.v};
}
template <class T>
std::array<T, 3> itp_of(const AbsoluteXyz<T>& c) {
  const auto itp = itp_from_ictcp(ictcp_from_pq_rgb(rgb_from_xyz(c, xyz_to_rgb_matrix(bt2020_primaries))));
  return {itp.i, itp.t, itp.p};
}
template <class T>
std::array<T, 3> cct_of(const AbsoluteXyz<T>& c) {
  const auto r = cct_duv(uv1960_from_uv_prime(uv_prime_from_xyz(c)));
  return {r->cct_kelvin, r->duv, r->cct_kelvin};
}

template <class Linear, class Plain>
void expect_agreement(const AbsoluteXyz<>& at, double relative, const Linear& linear, const Plain& plain) {
  const Reading reading(at, relative);
  const auto outputs = linear(reading.xyz);
  const auto sample = propagate(reading.sources,
                                [&](std::span<const double> e, std::span<double> out) {
                                  const auto v = plain(AbsoluteXyz<>{
                                      .X = reading.xyz.X.at(e), .Y = reading.xyz.Y.at(e), .Z = reading.xyz.Z.at(e)});
                                  std::copy(v.begin(), v.end(), out.begin());
                                },
                                3, {.seed = 2, .draws = 40000});
  for (std::size_t k = 0; k < 3; ++k) {
    const auto drawn = summarise(sample[k]);
    const auto r = linear_result(outputs[k], reading.sources);
    const double u = r.standard_uncertainty;
    EXPECT_NEAR(drawn.standard_uncertainty, u, 0.02 * u) << k;
    EXPECT_NEAR(drawn.mean, r.value, 0.05 * u) << k;
    EXPECT_NEAR(drawn.symmetric.lower, r.interval.lower, 0.08 * u) << k;
    EXPECT_NEAR(drawn.symmetric.upper, r.interval.upper, 0.08 * u) << k;
  }
}

const AbsoluteXyz<> kWhite{.X = 191, .Y = 200, .Z = 216};
const AbsoluteXyz<> kOrange{.X = 60, .Y = 45, .Z = 12};

TEST(LinearAgainstMonteCarlo, Lab) {
  for (const auto& c : {kWhite, kOrange}) expect_agreement(c, 0.01, lab_of<Uncertain>, lab_of<double>);
}
TEST(LinearAgainstMonteCarlo, UvPrime) {
  for (const auto& c : {kWhite, kOrange}) expect_agreement(c, 0.01, uv_of<Uncertain>, uv_of<double>);
}
TEST(LinearAgainstMonteCarlo, Itp) {
  for (const auto& c : {kWhite, kOrange}) expect_agreement(c, 0.01, itp_of<Uncertain>, itp_of<double>);
}
TEST(LinearAgainstMonteCarlo, CctAndDuv) {
  expect_agreement(kWhite, 0.004, cct_of<Uncertain>, cct_of<double>);
}

TEST(LinearAgainstMonteCarlo, NearBlackTheyPartAndMonteCarloIsRight) {
  // PQ's slope grows without bound towards 0: at 0.0001 +- 0.0007 cd/m2 first order is off by far more than a third.
  Sources sources;
  const Uncertain light(0.0001, sources.add({.name = "floor", .standard_uncertainty = 0.0007}));
  const Uncertain signal = pq_inverse_eotf(Luminance<Uncertain>{.cdm2 = light}).value;
  auto sample = propagate(sources,
                          [&](std::span<const double> e, std::span<double> out) {
                            out[0] = pq_inverse_eotf(Luminance<>{.cdm2 = light.at(e)}).value;
                          },
                          1, {.seed = 2, .draws = 20000});
  const double drawn = summarise(std::move(sample[0])).standard_uncertainty;
  EXPECT_GT(std::fabs(standard_uncertainty(signal, sources) / drawn - 1), 0.3);
}

TEST(ClosedForms, AgreeWithTheUncertaintyScalar) {
  const Reading reading(kOrange);
  const Vector3<> u{0.01 * kOrange.X, 0.01 * kOrange.Y, 0.01 * kOrange.Z};
  const auto closed = uv_prime_uncertainty(kOrange, covariance_of(u, 0.95, 0.9, 0.92));
  const auto uv = uv_prime_from_xyz(reading.xyz);
  EXPECT_NEAR(standard_uncertainty(uv.u, reading.sources), closed.u_first, 1e-12);
  EXPECT_NEAR(standard_uncertainty(uv.v, reading.sources), closed.u_second, 1e-12);
  EXPECT_NEAR(correlation(uv.u, uv.v, reading.sources), closed.correlation, 1e-9);
}

TEST(CommonScale, CancelsInChromaticity) {
  Sources sources;
  const Uncertain gain(1, sources.add({.name = "scale", .standard_uncertainty = 0.02}));
  const AbsoluteXyz<Uncertain> c{.X = gain * 191.0, .Y = gain * 200.0, .Z = gain * 216.0};
  EXPECT_NEAR(standard_uncertainty(uv_prime_from_xyz(c).u, sources), 0, 1e-15);
  EXPECT_NEAR(standard_uncertainty(cct_of(c)[0], sources), 0, 1e-9);
  EXPECT_NEAR(standard_uncertainty(c.Y, sources), 4, 1e-12);
}

}  // namespace
}  // namespace provenit::colour
