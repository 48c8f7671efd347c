// The fitted EOTFs that the vector code computes with.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "kernel/curve_fit.h"
#include "kernel/plan.h"
#include "kernel/span.h"

namespace provenit::programme::kernel {
namespace {

Plan plan_of(Transfer transfer, int bits, colour::Range range) {
  PictureFormat f{.width = 64, .height = 64, .bits = bits, .range = range};
  f.transfer = transfer;
  return Plan(f);
}

// docs/survey.md section 3: below 1e-6 of the light, and black is black.
TEST(CurveFit, ErrorsAreAsStated) {
  for (const Transfer transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886, Transfer::srgb})
    for (const int bits : {8, 10, 16})
      for (const colour::Range range : {colour::Range::narrow, colour::Range::full}) {
        const Plan plan = plan_of(transfer, bits, range);
        const CurveFit& curve = plan.vector.curve;
        const EvenFit& even = plan.vector.even;
        SCOPED_TRACE(describe(plan.format));
        EXPECT_LT(curve.relative_error, 1e-6);
        EXPECT_LT(even.relative_error, 1e-6);
        EXPECT_LT(curve.absolute_error, 2e-8 * std::max(1.0, plan.format.peak_cdm2 / 1000));
        EXPECT_EQ(curve(curve.low), 0);
        // Apart from the fit's own check: grey codes through the luma's line.
        const int top = (1 << bits) - 1;
        int by_even = 0, codes = 0;
        for (int code = 0; code <= top; code += bits > 10 ? 37 : 1) {
          ++codes;
          const double signal = colour::dequantise({.value = code, .bits = bits, .range = range}).value;
          const double exact = channel_light(plan.format, signal);
          const float u = std::fma(static_cast<float>(code), plan.vector.luma_slope, plan.vector.luma_offset);
          const float x = std::fma(u - plan.vector.black, plan.vector.curve_slope, curve.low);
          EXPECT_NEAR(curve(x), exact, 1.5e-6 * exact + 3e-8) << code;
          if (signal == 0) {
            EXPECT_EQ(curve(x), 0);
          }
          const int segment = EvenFit::segment_of(u);
          if (segment < 0 || segment >= EvenFit::kSegments || u > even.high) continue;
          ++by_even;
          EXPECT_NEAR(even(u), exact, 1.2e-6 * exact) << code;
        }
        EXPECT_GT(by_even, codes / 2);
      }
}

// Every range that a fit says it holds, against the definition; and most of the signal has one.
TEST(LocalFits, HoldWhatTheySay) {
  std::mt19937 random(11);
  for (const Transfer transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886, Transfer::srgb}) {
    const Plan plan = plan_of(transfer, 10, colour::Range::narrow);
    SCOPED_TRACE(describe(plan.format));
    const EvenFit& even = plan.vector.even;
    std::uniform_real_distribution<double> place(-6, EvenFit::kSegments + 6), width(0, 7), share(0, 1);
    int held = 0;
    constexpr int kRanges = 20000;
    for (int i = 0; i < kRanges; ++i) {
      const double low = place(random), high = low + width(random);
      const LocalFit* fit = plan.vector.local.holding({.low = low, .high = high});
      if (fit == nullptr) continue;
      ++held;
      const auto u = static_cast<float>(low + share(random) * (high - low));
      const double exact = channel_light(plan.format, (double{u} - even.offset) / even.slope);
      ASSERT_NEAR((*fit)(u, even.squared), exact, 1e-6 * exact) << low << " to " << high << " at " << u;
    }
    EXPECT_GT(held, kRanges / 4);
  }
}

// No pixel of codes within the spans lies outside BT.709 where the spans say so; and near grey they do say so.
TEST(Span, InsideBt709IsSafe) {
  std::mt19937 random(12);
  const Plan plan = plan_of(Transfer::pq, 10, colour::Range::narrow);
  const auto draw = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
  const auto codes = [](int a, int b) { return Codes{.low = std::min(a, b), .high = std::max(a, b)}; };
  int inside = 0, near_limit = 0;
  for (int i = 0; i < 4000; ++i) {
    const int y = draw(100, 900), b = draw(440, 584), r = draw(440, 584), w = draw(0, 40);
    const Codes luma = codes(y, std::min(y + w, 940)), cb = codes(b, b + w / 4), cr = codes(r, r + w / 4);
    if (!span_of(plan.vector, luma, cb, cr).inside_bt709) continue;
    ++inside;
    for (const int at_y : {luma.low, luma.high, draw(luma.low, luma.high)})
      for (const int at_b : {cb.low, cb.high})
        for (const int at_r : {cr.low, cr.high}) {
          const auto rgb = plan.decoder.light(Samples{.value = {at_y, 16 * at_b, 16 * at_r}});
          ASSERT_FALSE(plan.bt709.outside(rgb)) << at_y << ' ' << at_b << ' ' << at_r;
          const auto c = colour::rgb_from_rgb(rgb, plan.bt709.to_gamut);
          near_limit += std::min({c.r, c.g, c.b}) < 0.2 * max_rgb(rgb) ? 1 : 0;
        }
  }
  EXPECT_GT(inside, 400);
  EXPECT_GT(near_limit, 100);
}

TEST(CurveFit, PowerOfHlgGain) {
  for (const double exponent : {-0.2, 0.033, 0.2, 0.48}) {
    const PowerFit c = fit_power(exponent);
    for (double x = 1; x <= 2; x += 0.01) {
      double value = 0;
      for (std::size_t i = c.size(); i-- > 0;) value = value * (x - 1) + c[i];
      EXPECT_NEAR(value / std::pow(x, exponent), 1, 1e-8);
    }
  }
}

}  // namespace
}  // namespace provenit::programme::kernel
