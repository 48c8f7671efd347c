// Derivatives that flow through the formulas must equal those found by moving the input: for every function of the
// library, at random points of its smooth range. The uncertainty scalar must find the same.
#include "provenit/colour/dual.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "provenit/colour/adaptation.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/transfer.h"
#include "provenit/colour/uncertainty.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::colour {
namespace {

struct Span {
  double low, high;
};
template <std::size_t N>
using Spans = std::array<Span, N>;

double value_of(const Uncertain& x) {
  return x.value();
}
template <std::size_t N>
double value_of(const Dual<N>& x) {
  return x.value;
}

/// f takes an array of N scalars and gives an array or vector of scalars. Points are drawn evenly from the spans.
template <std::size_t N, class F>
void expect_slopes(const std::string& name, const Spans<N>& spans, F f) {
  std::mt19937_64 random(7);
  for (int point = 0; point < 40; ++point) {
    std::array<double, N> at{};
    std::array<Dual<N>, N> dual{};
    std::array<Uncertain, N> uncertain{};
    for (std::size_t i = 0; i < N; ++i) {
      at[i] = spans[i].low + (spans[i].high - spans[i].low) * static_cast<double>(random() >> 11) * 0x1p-53;
      dual[i] = Dual<N>::variable(at[i], i);
      uncertain[i] = Uncertain(at[i], static_cast<SourceId>(i));
    }
    const auto by_dual = f(dual);
    const auto by_uncertain = f(uncertain);
    const auto plain = f(at);
    for (std::size_t j = 0; j < plain.size(); ++j) {
      EXPECT_EQ(value_of(by_dual[j]), plain[j]) << name << " output " << j;
      EXPECT_NEAR(value_of(by_uncertain[j]), plain[j], 1e-13 * std::fabs(plain[j]) + 1e-300) << name << " output " << j;
    }
    for (std::size_t i = 0; i < N; ++i) {
      // Four points: the error is of the order of h^4, so that 1e-7 of the slope is within reach.
      const double h = 1e-3 * std::fabs(at[i]);
      const auto moved = [&](double by) {
        auto x = at;
        x[i] += by;
        return f(x);
      };
      const auto a = moved(-2 * h), b = moved(-h), c = moved(h), d = moved(2 * h);
      for (std::size_t j = 0; j < plain.size(); ++j) {
        const double expected = (a[j] - 8 * b[j] + 8 * c[j] - d[j]) / (12 * h);
        const double scale = std::fabs(expected) + 1e-3 * std::fabs(plain[j]) / std::fabs(at[i]) + 1e-9;
        EXPECT_NEAR(by_dual[j].slope[i], expected, 1e-6 * scale) << name << ": output " << j << " by input " << i;
        EXPECT_NEAR(by_uncertain[j].derivative(static_cast<SourceId>(i)), by_dual[j].slope[i], 1e-9 * scale)
            << name << ": uncertainty scalar, output " << j << " by input " << i;
      }
    }
  }
}

template <class T>
using Out = std::vector<T>;

constexpr Span kSignal{0.05, 0.95}, kLight{1, 9000}, kUnit{0.1, 0.9};

TEST(Dual, Arithmetic) {
  expect_slopes<2>("elementary", {{{0.3, 2}, {0.5, 3}}}, []<class T>(const std::array<T, 2>& x) {
    using std::atan2, std::cos, std::exp, std::fabs, std::hypot, std::log, std::pow, std::sin, std::sqrt;
    return Out<T>{x[0] + x[1],
                  x[0] - x[1],
                  x[0] * x[1],
                  x[0] / x[1],
                  -x[0],
                  2.0 - x[0],
                  3.0 / x[1],
                  exp(x[0]),
                  log(x[1]),
                  sqrt(x[0]),
                  pow(x[0], 2.4),
                  pow(x[0], x[1]),
                  pow(2.5, x[0]),
                  sin(x[0]),
                  cos(x[1]),
                  atan2(x[0], x[1]),
                  hypot(x[0], x[1]),
                  T(fabs(T(-x[0]))),
                  atan2(x[1], T(-x[0]))};
  });
  Dual<1> x = Dual<1>::variable(3, 0);
  x += 1;
  x *= x;
  x -= 6;
  x /= 2;
  EXPECT_EQ(x.value, 5);
  EXPECT_EQ(x.slope[0], 4);
  EXPECT_TRUE(x > 4.9 && x < Dual<1>(5.1) && x == 5.0);
}

TEST(Dual, Transfer) {
  expect_slopes<1>("from signal", {{kSignal}}, []<class T>(const std::array<T, 1>& x) {
    const Signal<T> signal{.value = x[0]};
    return Out<T>{pq_eotf(signal).cdm2,
                  pq_ootf(Relative<T>{.value = x[0]}).cdm2,
                  srgb_eotf(Signal<T>{.value = T(0.05 + x[0])}).value,
                  bt709_oetf(Relative<T>{.value = x[0]}).value,
                  bt709_inverse_oetf(Signal<T>{.value = T(0.1 + x[0])}).value,
                  srgb_inverse_eotf(Relative<T>{.value = x[0]}).value,
                  power_eotf(signal, 2.6).value,
                  power_inverse_eotf(Relative<T>{.value = x[0]}, 2.6).value};
  });
  expect_slopes<1>("below the breaks", {{{0.0005, 0.003}}}, []<class T>(const std::array<T, 1>& x) {
    const Signal<T> signal{.value = x[0]};
    const Relative<T> light{.value = x[0]};
    return Out<T>{srgb_eotf(signal).value,
                  srgb_inverse_eotf(light).value,
                  bt709_oetf(light).value,
                  bt709_inverse_oetf(signal).value,
                  hlg_oetf(light).value,
                  hlg_inverse_oetf(signal).value,
                  srgb_eotf(Signal<T>{.value = T(-x[0])}).value,
                  hlg_oetf(Relative<T>{.value = T(-x[0])}).value};
  });
  expect_slopes<1>("hlg", {{{0.51, 0.95}}}, []<class T>(const std::array<T, 1>& x) {
    return Out<T>{hlg_oetf(Relative<T>{.value = x[0]}).value, hlg_inverse_oetf(Signal<T>{.value = x[0]}).value,
                  hlg_oetf(Relative<T>{.value = T(-x[0])}).value};
  });
  expect_slopes<1>("from light", {{kLight}}, []<class T>(const std::array<T, 1>& x) {
    const Luminance<T> light{.cdm2 = x[0]};
    return Out<T>{pq_inverse_eotf(light).value, pq_inverse_ootf(light).value, hlg_system_gamma_basic(light),
                  hlg_system_gamma_extended(light), hlg_surround_factor(light)};
  });
  expect_slopes<3>("bt1886", {{kSignal, {80, 300}, {0.005, 0.1}}}, []<class T>(const std::array<T, 3>& x) {
    const Bt1886Display<T> d{.peak = {.cdm2 = x[1]}, .black = {.cdm2 = x[2]}};
    const Luminance<T> light{.cdm2 = T(0.5 + 70.0 * x[0])};
    return Out<T>{bt1886_eotf(Signal<T>{.value = x[0]}, d).cdm2, bt1886_inverse_eotf(light, d).value};
  });
}

TEST(Dual, HlgByEveryInput) {
  // R', G', B', peak, black, gamma.
  const Spans<6> spans{{{0.1, 0.45}, {0.55, 0.95}, {0.2, 0.4}, {500, 1900}, {0.005, 0.1}, {1.05, 1.3}}};
  for (const Bt2100Edition edition : {Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2})
    expect_slopes<6>("hlg eotf", spans, [edition]<class T>(const std::array<T, 6>& x) {
      const HlgDisplay<T> d{.peak = {.cdm2 = x[3]}, .black = {.cdm2 = x[4]}, .system_gamma = x[5], .edition = edition};
      const AbsoluteRgb<T> light = hlg_eotf(SignalRgb<T>{.r = x[0], .g = x[1], .b = x[2]}, d);
      const SignalRgb<T> back = hlg_inverse_eotf(AbsoluteRgb<double>{.r = 20, .g = 400, .b = 300}, d);
      return Out<T>{light.r, light.g, light.b, back.r, back.g, back.b, hlg_black_lift(d).value};
    });
}

TEST(Dual, SpacesAndPrimaries) {
  const Spans<3> xyz{{{0.2, 0.9}, {0.2, 0.9}, {0.2, 0.9}}};
  expect_slopes<3>("spaces", xyz, []<class T>(const std::array<T, 3>& x) {
    const RelativeXyz<T> c{.X = x[0], .Y = x[1], .Z = x[2]};
    const auto white = white_xyz(d65_video);
    const auto lab = lab_from_xyz(c, white);
    const auto luv = luv_from_xyz(c, white);
    const auto xy = xy_from_xyz(c);
    const auto uv = uv_prime_from_xyz(c);
    const auto from_lab = xyz_from_lab(Lab<T>{.L = T(60.0 * x[0]), .a = T(20.0 * x[1]), .b = T(-9.0 * x[2])}, white);
    const auto from_luv = xyz_from_luv(Luv<T>{.L = T(60.0 * x[0]), .u = T(20.0 * x[1]), .v = T(-9.0 * x[2])}, white);
    const auto from_uv = xy_from_uv1960(uv1960_from_xy(Xy<T>{.x = T(0.4 * x[0]), .y = T(0.4 * x[1])}));
    const auto again = xyz_from_xy(xy, Luminance<T>{.cdm2 = x[1]});
    return Out<T>{lab.L,      lab.a,      lab.b,      luv.u,      luv.v,      xy.x,      xy.y,    uv.u,   uv.v,
                  from_lab.X, from_lab.Y, from_lab.Z, from_luv.X, from_luv.Z, from_uv.x, again.X, again.Z};
  });
  // The parts of f that are straight lines.
  expect_slopes<1>("dark", {{{0.0005, 0.008}}}, []<class T>(const std::array<T, 1>& x) {
    const RelativeXyz<T> c{.X = x[0], .Y = T(0.9 * x[0]), .Z = T(0.5 * x[0])};
    const auto lab = lab_from_xyz(c, white_xyz(d65_video));
    return Out<T>{lab.L, lab.a, lab.b,
                  xyz_from_lab(Lab<T>{.L = T(500.0 * x[0]), .a = x[0], .b = x[0]}, white_xyz(d65_video)).Y};
  });
  const Spans<8> chromaticities{
      {{0.6, 0.7}, {0.29, 0.35}, {0.2, 0.3}, {0.6, 0.75}, {0.13, 0.16}, {0.04, 0.07}, {0.30, 0.32}, {0.32, 0.34}}};
  expect_slopes<8>("matrices", chromaticities, []<class T>(const std::array<T, 8>& x) {
    const Primaries<T> p{.red = {x[0], x[1]}, .green = {x[2], x[3]}, .blue = {x[4], x[5]}, .white = {x[6], x[7]}};
    const auto m = rgb_to_xyz_matrix(p);
    const auto c = rgb_to_rgb_matrix(bt709_primaries, p);
    return Out<T>{m(0, 0), m(1, 1), m(2, 2), m(1, 0), c(0, 0), c(0, 1), c(1, 1), c(2, 2)};
  });
  expect_slopes<3>("ictcp", {{kLight, kLight, kLight}}, []<class T>(const std::array<T, 3>& x) {
    const auto c = ictcp_from_pq_rgb(AbsoluteRgb<T>{.r = x[0], .g = x[1], .b = x[2]});
    const auto back =
        pq_rgb_from_ictcp(Ictcp<T>{.i = T(0.5 + x[0] * 1e-5), .ct = T(x[1] * 1e-6), .cp = T(x[2] * 1e-6)});
    return Out<T>{c.i, c.ct, c.cp, back.r, back.g, back.b};
  });
  expect_slopes<3>("ictcp hlg, ycbcr", {{kUnit, kUnit, kUnit}}, []<class T>(const std::array<T, 3>& x) {
    const auto c = ictcp_from_hlg_rgb(RelativeRgb<T>{.r = x[0], .g = x[1], .b = x[2]});
    const auto back = hlg_rgb_from_ictcp(Ictcp<T>{.i = x[0], .ct = T(0.02 * x[1]), .cp = T(0.02 * x[2])});
    const auto y = ycbcr_from_rgb(SignalRgb<T>{.r = x[0], .g = x[1], .b = x[2]}, YcbcrMatrix::bt2020_ncl);
    const auto rgb = rgb_from_ycbcr(SignalYcbcr<T>{.y = x[0], .cb = x[1], .cr = x[2]}, YcbcrMatrix::bt709);
    return Out<T>{c.i, c.ct, c.cp, back.r, back.g, back.b, y.y, y.cb, y.cr, rgb.r, rgb.g, rgb.b};
  });
}

TEST(Dual, Differences) {
  const Spans<6> labs{{{30, 70}, {10, 40}, {15, 60}, {30, 70}, {-40, -10}, {15, 60}}};
  expect_slopes<6>("lab differences", labs, []<class T>(const std::array<T, 6>& x) {
    const Lab<T> a{.L = x[0], .a = x[1], .b = x[2]}, b{.L = x[3], .a = x[4], .b = x[5]};
    const Luv<T> c{.L = x[0], .u = x[1], .v = x[2]}, d{.L = x[3], .u = x[4], .v = x[5]};
    return Out<T>{delta_e_76(a, b), ciede2000(a, b), delta_e_uv(c, d), delta_uv_star(c, d),
                  delta_uv_prime(UvPrime<T>{x[0], x[1]}, UvPrime<T>{x[3], x[4]})};
  });
  const Spans<6> lights{{{50, 60}, {70, 80}, {30, 40}, {62, 68}, {60, 69}, {42, 50}}};
  expect_slopes<6>("itp", lights, []<class T>(const std::array<T, 6>& x) {
    const AbsoluteXyz<T> a{.X = x[0], .Y = x[1], .Z = x[2]}, b{.X = x[3], .Y = x[4], .Z = x[5]};
    const auto d = itp_difference(a, b);
    const auto against_exact = itp_difference(AbsoluteXyz<double>{.X = 50, .Y = 50, .Z = 50}, b);
    return Out<T>{d.total, d.luminance, d.chromaticity, d.di, d.dt, d.dp, against_exact.total};
  });
}

TEST(Dual, Adaptation) {
  const Spans<4> whites{{{0.28, 0.34}, {0.30, 0.36}, {0.33, 0.45}, {0.34, 0.42}}};
  expect_slopes<4>("adaptation", whites, []<class T>(const std::array<T, 4>& x) {
    const auto from = white_xyz(Xy<T>{x[0], x[1]}), to = white_xyz(Xy<T>{x[2], x[3]});
    const auto m = adaptation_matrix(AdaptationTransform::bradford, from, to);
    const auto p = partial_adaptation_matrix(AdaptationTransform::cat16, from, 0.9, to, 0.7);
    const auto c = adapted(from, p);
    return Out<T>{m(0, 0),
                  m(1, 2),
                  p(2, 2),
                  c.X,
                  c.Y,
                  c.Z,
                  adaptation_degree(AdaptationSurround::dim, Luminance<T>{.cdm2 = T(100.0 * x[0])})};
  });
}

TEST(Dual, SlopesAreFiniteWhereTheHeadersSayZero) {
  const Dual<1> zero = Dual<1>::variable(0, 0);
  const auto finite = [](const Dual<1>& x) { return std::isfinite(x.value) && std::isfinite(x.slope[0]); };
  EXPECT_TRUE(finite(pq_inverse_eotf(Luminance<Dual<1>>{.cdm2 = zero}).value));
  EXPECT_TRUE(finite(hlg_oetf(Relative<Dual<1>>{.value = zero}).value));
  const Bt1886Display<Dual<1>> display{.peak = {.cdm2 = 100}, .black = {.cdm2 = zero}};
  EXPECT_TRUE(finite(bt1886_eotf(Signal<>{.value = 0.5}, display).cdm2));
  EXPECT_TRUE(finite(hlg_eotf_grey(Signal<>{.value = 0.5},
                                   hlg_display(Luminance<Dual<1>>{.cdm2 = 1000.0}, Luminance<Dual<1>>{.cdm2 = zero}))
                         .cdm2));
  const Lab<Dual<1>> grey{.L = Dual<1>::variable(50, 0), .a = 0, .b = 0};
  EXPECT_TRUE(finite(ciede2000(grey, grey)));
  EXPECT_TRUE(finite(ciede2000(grey, Lab<>{.L = 52, .a = 0, .b = 0})));
  EXPECT_TRUE(finite(itp_difference(AbsoluteRgb<Dual<1>>{zero, zero, zero}, AbsoluteRgb<>{1, 1, 1}).total));
}

}  // namespace
}  // namespace provenit::colour
