// The fitted EOTFs that the vector code computes with.
#include <gtest/gtest.h>

#include <cmath>

#include "kernel/curve_fit.h"
#include "kernel/plan.h"

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
