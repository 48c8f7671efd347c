#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "provenit/programme/pixel.h"
#include "reference.h"

namespace provenit::programme::testing {

double reference_pq_signal(double luminance);

namespace {

void expect_near(double value, double expected, double relative, double absolute, const char* what) {
  EXPECT_LE(std::abs(value - expected), relative * std::abs(expected) + absolute)
      << what << ": " << value << " for " << expected << ", relative " << value / expected - 1;
}

double max_rgb_of(const Pixel& p) {
  return std::max({p.rgb.r, p.rgb.g, p.rgb.b});
}

/// The same pixel, or one that equals it to the 12th digit and is above it in the definition's own last digit.
void expect_place(const FrameFigures& f, const Reference& r, const Picture& picture) {
  const FrameFigures& e = r.figures;
  expect_near(f.max_rgb_max, e.max_rgb_max, 1e-12, 0, "max_rgb_max");
  EXPECT_EQ(f.max_rgb_max, max_rgb_of(pixel_at(picture, f.brightest_x, f.brightest_y))) << "exact at its place";
  for (int y = 0; y < picture.format.height; ++y)
    for (int x = 0; x < picture.format.width; ++x) {
      const double v = r.pixels[std::size_t(y) * picture.format.width + x].max_rgb;
      if (v < e.max_rgb_max * (1 - 1e-12)) continue;
      if (x == f.brightest_x && y == f.brightest_y) return;
      EXPECT_GT(f.max_rgb_max, max_rgb_of(pixel_at(picture, x, y))) << "first place " << x << ", " << y;
    }
}

template <class Value, class Slack>
void expect_share(double share, double expected, const Reference& r, double level, const Value& value,
                  const Slack& slack, const char* what) {
  const auto n = static_cast<double>(r.pixels.size());
  int near = 0;
  for (const auto& p : r.pixels) near += std::abs(value(p) - level) <= slack(p) ? 1 : 0;
  EXPECT_LE(std::abs(share - expected) * n, near + 1e-6) << what << " at " << level;
}

void expect_shares(const FrameFigures& f, const Reference& r) {
  const FrameFigures& e = r.figures;
  const auto luminance = [](const ReferencePixel& p) { return p.luminance; };
  const auto none = [](const ReferencePixel& p) { return 1e-12 * p.luminance; };
  // Ratios of channels are known to 5e-6, and near black to the light's own absolute error.
  const auto ratio = [](const ReferencePixel& p) { return 5e-6 + 1e-7 / std::max(p.max_rgb, 1e-9); };
  for (std::size_t i = 0; i < kAboveCdm2.size(); ++i)
    expect_share(f.share_above[i], e.share_above[i], r, kAboveCdm2[i], luminance, none, "above");
  for (std::size_t i = 0; i < kBelowCdm2.size(); ++i)
    expect_share(f.share_below[i], e.share_below[i], r, kBelowCdm2[i], luminance, none, "below");
  expect_share(
      f.share_outside_bt709, e.share_outside_bt709, r, -1e-6, [](const ReferencePixel& p) { return p.outside_bt709; },
      ratio, "outside BT.709");
  expect_share(
      f.share_outside_p3, e.share_outside_p3, r, -1e-6, [](const ReferencePixel& p) { return p.outside_p3; }, ratio,
      "outside P3");
}

void expect_light(const FrameRecord& record, const Reference& r) {
  std::vector<double> high, low;
  for (const auto& p : r.pixels) {
    high.push_back(reference_pq_signal(p.luminance * 1.004));
    low.push_back(reference_pq_signal(p.luminance * 0.996));
  }
  std::sort(high.begin(), high.end());
  std::sort(low.begin(), low.end());
  std::int64_t below = 0;
  for (int i = 0; i < kLightBins; ++i) {
    below += record.light[i];
    if (i == kLightBins - 1) break;
    const double edge = (i + 1.0) / kLightBins;
    EXPECT_GE(below, std::lower_bound(high.begin(), high.end(), edge) - high.begin()) << "light bin " << i;
    EXPECT_LE(below, std::lower_bound(low.begin(), low.end(), edge) - low.begin()) << "light bin " << i;
  }
  EXPECT_EQ(below, static_cast<std::int64_t>(r.pixels.size()));
}

void expect_cells(const FrameRecord& record, const Reference& r) {
  EXPECT_DOUBLE_EQ(record.figures.dark_beside_bright, r.figures.dark_beside_bright);
  EXPECT_DOUBLE_EQ(record.figures.near_black_detail, r.figures.near_black_detail);
  ASSERT_EQ(record.block_columns, r.block_columns);
  ASSERT_EQ(record.block_rows, r.block_rows);
  for (std::size_t i = 0; i < r.block_mean.size(); ++i)
    EXPECT_NEAR(record.blocks[i], 65535 * std::min(reference_pq_signal(r.block_mean[i]), 1.0), 0.51) << "block " << i;
  for (std::size_t i = r.block_mean.size(); i < record.blocks.size(); ++i) EXPECT_EQ(record.blocks[i], 0);
}

/// A percentile that falls on the darkest or the brightest pixel is that pixel's luminance.
void expect_end_percentiles(const FrameFigures& f, const Reference& r) {
  const auto n = static_cast<double>(r.pixels.size());
  for (std::size_t i = 0; i < kPercentiles.size(); ++i) {
    const double rank = std::ceil(kPercentiles[i] * n / 100);
    if (rank <= 1) {
      EXPECT_EQ(f.luminance_percentile[i], f.luminance_min);
    }
    if (rank >= n && n > 1) {
      EXPECT_EQ(f.luminance_percentile[i], f.luminance_max);
    }
  }
}

}  // namespace

void expect_agrees(const FrameRecord& record, const Reference& r, const Picture& picture) {
  const FrameFigures &f = record.figures, &e = r.figures;
  expect_place(f, r, picture);
  EXPECT_EQ(f.active, e.active);
  expect_near(f.luminance_max, e.luminance_max, 1e-12, 0, "luminance_max");
  expect_near(f.luminance_min, e.luminance_min, 1e-12, 1e-18, "luminance_min");
  expect_near(f.max_rgb_robust, e.max_rgb_robust, 1e-12, 1e-18, "max_rgb_robust");
  expect_near(f.max_rgb_mean, e.max_rgb_mean, 1e-6, 1e-9, "max_rgb_mean");
  expect_near(f.max_rgb_mean_active, e.max_rgb_mean_active, 1e-6, 1e-9, "max_rgb_mean_active");
  expect_near(f.luminance_mean, e.luminance_mean, 1e-6, 1e-9, "luminance_mean");
  expect_near(f.luminance_mean_active, e.luminance_mean_active, 1e-6, 1e-9, "luminance_mean_active");
  EXPECT_NEAR(f.mean_u_prime, e.mean_u_prime, 1e-6);
  EXPECT_NEAR(f.mean_v_prime, e.mean_v_prime, 1e-6);
  for (std::size_t i = 0; i < kPercentiles.size(); ++i)
    expect_near(f.luminance_percentile[i], e.luminance_percentile[i], 0.005,
                e.luminance_percentile[i] < 1e-4 ? 1e-4 : 0, "percentile");
  expect_end_percentiles(f, r);
  expect_shares(f, r);
  expect_light(record, r);
  expect_cells(record, r);
}

}  // namespace provenit::programme::testing
