#include "kernel/curve_fit.h"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <tuple>

namespace provenit::programme::kernel {
namespace {

constexpr int kOrder = CurveFit::kCoefficients;
template <std::size_t kCount>
using Coefficients = std::array<double, kCount>;

/// Polynomial through the points u[i], value[i], by powers of u (Newton's divided differences, then expanded).
template <std::size_t kCount>
Coefficients<kCount> interpolate(const Coefficients<kCount>& u, Coefficients<kCount> value) {
  for (std::size_t j = 1; j < kCount; ++j)
    for (std::size_t i = kCount - 1; i >= j; --i) value[i] = (value[i] - value[i - 1]) / (u[i] - u[i - j]);
  Coefficients<kCount> power{};
  for (std::size_t i = kCount; i-- > 0;) {
    for (std::size_t j = kCount - 1; j >= 1; --j) power[j] = power[j - 1] - u[i] * power[j];
    power[0] = value[i] - u[i] * power[0];
  }
  return power;
}

/// Fits f(begin + t), t in [0, width], at Chebyshev nodes stretched to hold both ends, so that neighbours meet.
template <std::size_t kCount, class Function>
Coefficients<kCount> fit_segment(const Function& f, double begin, double width) {
  Coefficients<kCount> u{}, value{};
  const double count = kCount, stretch = 1 / std::cos(std::numbers::pi / (2 * count));
  for (std::size_t i = 0; i < kCount; ++i) {
    const double angle = std::numbers::pi * (static_cast<double>(i) + 0.5) / count;
    u[i] = i == 0 ? 0 : 0.5 - 0.5 * stretch * std::cos(angle);
    value[i] = f(begin + width * u[i]);
  }
  Coefficients<kCount> c = interpolate(u, value);
  double scale = 1;
  for (double& v : c) {
    v /= scale;
    scale *= width;
  }
  return c;
}

/// First x of the segment that x lies in: the float without the lower bits of its fraction.
float segment_begin(float x) {
  return std::bit_cast<float>(std::bit_cast<std::uint32_t>(x) & 0xffe00000U);
}

void measure_errors(const std::function<double(double)>& light, double largest, CurveFit& fit) {
  const double floor = 1e-7 * light(largest);
  constexpr int kPoints = 1 << 14;
  for (int i = 0; i <= kPoints; ++i) {
    const auto x = static_cast<float>(fit.low * std::pow(fit.high / fit.low, i / double{kPoints}));
    const double exact = light(std::clamp((double{x} - fit.offset) / fit.slope, 0.0, largest));
    const double error = std::abs(double{fit(x)} - exact);
    if (exact >= floor)
      fit.relative_error = std::max(fit.relative_error, error / exact);
    else
      fit.absolute_error = std::max(fit.absolute_error, error);
  }
}

EvenFit even_segments(const std::function<double(double)>& light, double range, double largest, double join, int bits,
                      double codes, double zero, bool squared) {
  constexpr int kLast = EvenFit::kSegments - 1;
  EvenFit fit{.squared = squared};
  const double per_code = std::round(std::ldexp(EvenFit::kSegments / (range * largest * codes), bits));
  const double step = std::ldexp(per_code, -bits);
  fit.slope = step * codes;
  // The highest signal, or the join, lies where a segment ends.
  const double boundary = join > (1 - range) * largest ? join : largest;
  const double after = std::ceil((largest - boundary) * fit.slope);
  fit.offset = kLast + 0.5 - after - step * (zero + boundary * codes) + step * zero;
  fit.high = static_cast<float>(fit.offset + fit.slope * largest);
  const auto signal = [&](double u) { return (u - fit.offset) / fit.slope; };
  const auto root = [&](double u) {
    const double l = light(std::min(signal(u), largest));
    return squared ? std::sqrt(l) : l;
  };
  for (std::size_t n = 0; n < EvenFit::kSegments; ++n) {
    const auto middle = static_cast<double>(n);
    const double end = std::min(0.5, double{fit.high} - middle);
    if (end <= -0.5) break;
    const auto c = fit_powers<EvenFit::kCoefficients>([&](double t) { return root(middle + t); }, -0.5, end);
    for (std::size_t j = 0; j < EvenFit::kCoefficients; ++j)
      fit.coefficient[j][n] = fit.by_segment[n][j] = static_cast<float>(c[j]);
  }
  constexpr int kPoints = 64 * EvenFit::kSegments;
  for (int i = 1; i < kPoints; ++i) {
    const auto u = static_cast<float>(-0.5 + i / 64.0);
    if (signal(u) > largest) break;
    const double exact = light(signal(double{u}));
    fit.relative_error = std::max(fit.relative_error, std::abs(double{fit(u)} / exact - 1));
  }
  return fit;
}

}  // namespace

template <std::size_t kCount>
std::array<double, kCount> fit_powers(const std::function<double(double)>& f, double low, double high) {
  Coefficients<kCount> t{}, value{};
  for (std::size_t i = 0; i < kCount; ++i) {
    const double place = std::cos(std::numbers::pi * (static_cast<double>(i) + 0.5) / kCount);
    t[i] = (high + low) / 2 + (high - low) / 2 * place;
    value[i] = f(t[i]);
  }
  return interpolate(t, value);
}
template std::array<double, 4> fit_powers(const std::function<double(double)>&, double, double);
template std::array<double, 8> fit_powers(const std::function<double(double)>&, double, double);

int CurveFit::segment_of(float x) {
  return static_cast<int>((std::bit_cast<std::uint32_t>(x) >> 21) & (kSegments - 1));
}

float CurveFit::operator()(float x) const {
  x = std::clamp(x, low, high);
  const int s = segment_of(x);
  const float t = x - segment_begin(x);
  float v = coefficient[kOrder - 1][s];
  for (int j = kOrder - 2; j >= 0; --j) v = std::fma(v, t, coefficient[j][s]);
  return squared ? v * v : std::max(v, 0.0F);
}

CurveFit fit_curve(const std::function<double(double)>& light, double largest, double offset, double slope,
                   bool squared) {
  CurveFit fit{.offset = offset, .slope = slope, .squared = squared};
  fit.low = static_cast<float>(offset);
  fit.high = static_cast<float>(offset + slope * largest);
  assert(fit.low >= 1 && fit.high < 256);
  const auto root = [&](double x) {
    const double l = light(std::clamp((x - offset) / slope, 0.0, largest));
    return squared ? std::sqrt(l) : l;
  };
  for (int i = 0; i < CurveFit::kSegments; ++i) {
    const double octave = 1 << (i / 4), begin = octave * (1 + (i % 4) / 4.0);
    // The curve is only defined up to the highest signal; beyond it nothing is read.
    const double end = std::min(begin + octave / 4, double{fit.high});
    if (end <= begin) continue;
    const auto c = fit_segment<kOrder>(root, begin, end - begin);
    const int s = CurveFit::segment_of(static_cast<float>(begin));
    for (int j = 0; j < kOrder; ++j) fit.coefficient[j][s] = static_cast<float>(c[j]);
  }
  measure_errors(light, largest, fit);
  return fit;
}

int EvenFit::segment_of(float u) {
  return static_cast<int>(std::nearbyint(u));
}

float EvenFit::operator()(float u) const {
  const int n = segment_of(u);
  const auto& c = by_segment[static_cast<std::size_t>(n)];
  const float t = u - static_cast<float>(n);
  const float v = std::fma(std::fma(std::fma(c[3], t, c[2]), t, c[1]), t, c[0]);
  return squared ? v * v : v;
}

EvenFit fit_evenly(const std::function<double(double)>& light, double largest, double join, int bits, double codes,
                   double zero, bool squared) {
  EvenFit fit;
  // From the widest range down to the one whose error is small beside what a float's rounding makes.
  for (const double range : {0.955, 0.9, 0.85, 0.8, 0.7, 0.6}) {
    fit = even_segments(light, range, largest, join, bits, codes, zero, squared);
    if (fit.relative_error <= EvenFit::kMostError) break;
  }
  return fit;
}

PowerFit fit_power(double exponent) {
  return fit_segment<std::tuple_size_v<PowerFit>>([&](double x) { return std::pow(x, exponent); }, 1, 1);
}

}  // namespace provenit::programme::kernel
