#include "kernel/span.h"

#include <algorithm>

namespace provenit::programme::kernel {
namespace {

/// u is rounded several times on its way: far less than this.
constexpr double kMargin = 1e-3;

Range scaled(const Range& range, double factor) {
  const double a = factor * range.low, b = factor * range.high;
  return {.low = std::min(a, b), .high = std::max(a, b)};
}

Range sum(const Range& a, const Range& b) {
  return {.low = a.low + b.low, .high = a.high + b.high};
}

/// Of what the chroma adds.
double highest(const Range& cb, double cb_factor, const Range& cr, double cr_factor) {
  return scaled(cb, cb_factor).high + scaled(cr, cr_factor).high;
}

}  // namespace

Span span_of(const VectorConstants& v, const Codes& luma, const Codes& cb, const Codes& cr) {
  const double slope = v.luma_slope, offset = v.luma_offset;
  const Range y{.low = offset + slope * luma.low - kMargin, .high = offset + slope * luma.high + kMargin};
  const auto around_zero = [&](const Codes& codes) {
    return Range{.low = static_cast<double>(codes.low - v.chroma_zero),
                 .high = static_cast<double>(codes.high - v.chroma_zero)};
  };
  const Range b = around_zero(cb), r = around_zero(cr);
  const auto& k = v.chroma[16];
  const double red_cr = k.red_cr, green_cr = k.green_cr, green_cb = k.green_cb, blue_cb = k.blue_cb;
  const Range red = sum(y, scaled(r, red_cr)), blue = sum(y, scaled(b, blue_cb)),
              green = sum(y, sum(scaled(r, green_cr), scaled(b, green_cb)));
  const Range all{.low = std::min({red.low, green.low, blue.low}), .high = std::max({red.high, green.high, blue.high})};
  Span span{.fit = v.local.holding(all)};
  const ChannelGaps gaps{
      .r = kMargin + std::max({0.0, highest(b, green_cb, r, green_cr - red_cr), highest(b, blue_cb, r, -red_cr)}),
      .g = kMargin +
           std::max({0.0, highest(b, -green_cb, r, red_cr - green_cr), highest(b, blue_cb - green_cb, r, -green_cr)}),
      .b = kMargin + std::max({0.0, highest(b, -blue_cb, r, red_cr), highest(b, green_cb - blue_cb, r, green_cr)})};
  span.inside_bt709 = v.near_grey.inside(gaps, v.local.steepness(all.low));
  return span;
}

}  // namespace provenit::programme::kernel
