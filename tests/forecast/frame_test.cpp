// The full path: equal to the plain definition, to signals, and settled where nothing moves.
#include "provenit/forecast/frame.h"

#include <gmock/gmock.h>

#include "fixture.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/pixel.h"

namespace provenit::forecast {
namespace {

using namespace testing;

class Frames : public ::testing::TestWithParam<const char*> {
 protected:
  Measured& m = measured(GetParam());
};
INSTANTIATE_TEST_SUITE_P(Demo, Frames, ::testing::Values("tern-32", "curlew-27"),
                         [](const auto& tested) { return std::string(tested.param).substr(0, 4); });

TEST_P(Frames, FiguresAreThoseOfThePlainDefinition) {
  const auto picture = waves(kWidth, kHeight);
  ShownLight light;
  const auto made = FrameForecaster::make(m.display, picture.format).value().still(picture, &light).value();
  std::vector<std::array<float, 3>> intended, shown;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const auto xyz = programme::pixel_at(picture, x, y).xyz;
      intended.push_back({static_cast<float>(xyz.X), static_cast<float>(xyz.Y), static_cast<float>(xyz.Z)});
      const auto i = intended.size() - 1;
      shown.push_back({light.x[i], light.y[i], light.z[i]});
    }
  const auto plain = numbers_of(sums_of(kWidth, intended, shown), 0);
  for (std::size_t q = 0; q < kQuantities; ++q) {
    const auto quantity = static_cast<Quantity>(q);
    if (quantity == Quantity::dimming) continue;  // needs the light without the limiter
    EXPECT_NEAR(made.figures[q].value, plain[q], 3e-3 * std::abs(plain[q]) + 2e-3) << name_of(quantity);
    EXPECT_LE(made.figures[q].lower, made.figures[q].value) << name_of(quantity);
    EXPECT_GE(made.figures[q].upper, made.figures[q].value) << name_of(quantity);
  }
  EXPECT_GT(plain[0], 0.2);
}

TEST_P(Frames, APictureOfASignalIsForecastLikeTheSignal) {
  const signal::Encoding encoding;
  const signal::Signal s{.encoding = encoding,
                         .patch = signal::peak_code(encoding),
                         .surround = signal::black_code(encoding),
                         .geometry = {.shape = signal::Shape::window, .area_fraction = 1.0 / 16}};
  const auto picture = window(kWidth, kHeight, 0.25, 940, 64);
  ShownLight light;
  ASSERT_TRUE(FrameForecaster::make(m.display, picture.format).value().still(picture, &light).has_value());
  for (const auto& [x, y] : {std::pair{320, 176}, {420, 176}, {560, 100}, {10, 340}}) {
    const auto want = m.display.light(s, (x + 0.5) / kWidth, (y + 0.5) / kHeight);
    const auto i = static_cast<std::size_t>(y * kWidth + x);
    EXPECT_NEAR(light.x[i], want.X, 0.01 * want.X) << x << ", " << y;
    EXPECT_NEAR(light.y[i], want.Y, 0.01 * want.Y) << x << ", " << y;
    EXPECT_NEAR(light.z[i], want.Z, 0.01 * want.Z) << x << ", " << y;
  }
}

TEST_P(Frames, AClipThatStandsStillArrivesAtTheStill) {
  const auto dark = window(kWidth, kHeight, 0.25, 300, 64), bright = window(kWidth, kHeight, 0.9, 940, 64);
  auto forecaster = FrameForecaster::make(m.display, dark.format).value();
  const auto settled = forecaster.still(bright).value();
  const auto first = forecaster.next(dark, {1}).value();
  EXPECT_DOUBLE_EQ(of(first.figures, Quantity::mean_delta_e).value,
                   of(forecaster.still(dark).value().figures, Quantity::mean_delta_e).value);
  const auto moving = forecaster.next(bright, {1.0 / 24}).value();
  EXPECT_GT(moving.cap, settled.cap + 0.01);
  FrameForecast last;
  for (int i = 0; i < 100; ++i) last = forecaster.next(bright, {1.0 / 24}).value();
  EXPECT_NEAR(last.cap, settled.cap, 1e-3);
  EXPECT_NEAR(of(last.figures, Quantity::mean_delta_e).value, of(settled.figures, Quantity::mean_delta_e).value, 0.01);
  forecaster.cut();
  EXPECT_EQ(forecaster.next(bright, {1.0 / 24})->cap, settled.cap);
}

TEST_P(Frames, PlanesOfYcbcrAreDecodedAsPixelAtDoes) {
  // A picture without edges, in 4:2:0: the vertical interpolation that the fast path leaves out does not matter.
  std::vector<std::uint16_t> luma, cb, cr;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) luma.push_back(static_cast<std::uint16_t>(200 + x / 4));
  for (int y = 0; y < kHeight / 2; ++y)
    for (int x = 0; x < kWidth / 2; ++x) {
      cb.push_back(static_cast<std::uint16_t>(480 + x / 10));
      cr.push_back(static_cast<std::uint16_t>(540 - x / 12));
    }
  auto all = std::make_shared<std::vector<std::uint16_t>>(luma);
  all->insert(all->end(), cb.begin(), cb.end());
  all->insert(all->end(), cr.begin(), cr.end());
  programme::Picture picture{.format = {.width = kWidth, .height = kHeight}};
  const auto plane = [&](std::size_t first, int w, int h) {
    return programme::Plane{
        .data = reinterpret_cast<const std::byte*>(all->data() + first), .stride = 2 * w, .width = w, .height = h};
  };
  picture.planes = {plane(0, kWidth, kHeight), plane(luma.size(), kWidth / 2, kHeight / 2),
                    plane(luma.size() + cb.size(), kWidth / 2, kHeight / 2)};
  picture.owner = all;
  const auto made = FrameForecaster::make(m.display, picture.format).value().still(picture).value();

  std::vector<std::uint16_t> rgb(3 * luma.size());
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const auto e = programme::pixel_at(picture, x, y).signal;
      const auto i = static_cast<std::size_t>(y * kWidth + x);
      const double parts[] = {e.r, e.g, e.b};
      for (std::size_t c = 0; c < 3; ++c)
        rgb[c * luma.size() + i] = static_cast<std::uint16_t>(std::clamp(std::lround(parts[c] * 65535), 0L, 65535L));
    }
  auto same = picture_of(kWidth, kHeight, std::move(rgb));
  same.format.bits = 16;
  same.format.range = colour::Range::full;
  const auto plain = FrameForecaster::make(m.display, same.format).value().still(same).value();
  for (const auto q : {Quantity::mean_delta_e, Quantity::share_above_1, Quantity::share_above_3})
    EXPECT_NEAR(of(made.figures, q).value, of(plain.figures, q).value, 0.01) << name_of(q);
}

TEST_P(Frames, RefusesWhatItCannotForecast) {
  programme::PictureFormat hlg{.width = 64, .height = 36, .transfer = programme::Transfer::hlg};
  EXPECT_FALSE(FrameForecaster::make(m.display, hlg).has_value());
  const auto picture = window(64, 36, 0.5, 940, 64), other = window(96, 54, 0.5, 940, 64);
  auto forecaster = FrameForecaster::make(m.display, picture.format).value();
  EXPECT_FALSE(forecaster.still(other).has_value());
  EXPECT_FALSE(forecaster.next(picture, {0}).has_value());
  EXPECT_TRUE(forecaster.still(picture).has_value());
}

}  // namespace
}  // namespace provenit::forecast
