// Scopes as numbers, on pictures whose numbers are known.
#include "provenit/programme/scopes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numeric>
#include <random>

#include "kernel_picture.h"
#include "provenit/colour/colour_bars.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/ycbcr.h"
#include "provenit/programme/pixel.h"

namespace provenit::programme {
namespace {

using programme::testing::make_picture;

PictureFormat rgb_format(int width, int height, int bits = 10, Transfer transfer = Transfer::pq,
                         Gamut gamut = Gamut::bt2020) {
  return {.width = width,
          .height = height,
          .bits = bits,
          .chroma = Chroma::rgb,
          .range = colour::Range::full,
          .transfer = transfer,
          .gamut = gamut,
          .matrix = Matrix::rgb};
}
/// Every code of 10 bits, one a column.
LightImage ramp() {
  return light_image(make_picture(rgb_format(1024, 3), [](int, int x, int) { return x; })).value();
}
/// A linear picture of one colour, cd/m2.
LightImage flat(double r, double g, double b, Gamut gamut = Gamut::bt2020) {
  PictureFormat f = rgb_format(8, 4, 32, Transfer::linear, gamut);
  f.is_float = true, f.peak_cdm2 = 1;
  return light_image(make_picture(f, [&](int plane, int, int) { return plane == 0 ? r : plane == 1 ? g : b; })).value();
}
std::map<std::pair<int, int>, std::uint32_t> filled(const Counts& c) {
  std::map<std::pair<int, int>, std::uint32_t> cells;
  for (int row = 0; row < c.rows; ++row)
    for (int column = 0; column < c.columns; ++column)
      if (c.at(column, row) > 0) cells[{column, row}] = c.at(column, row);
  return cells;
}
int cell(double value, double first, double last, int cells) {
  return static_cast<int>(std::floor((value - first) / (last - first) * cells));
}

TEST(LightImage, IsWhatPixelAtSays) {
  std::mt19937 random(1);
  for (const auto chroma : {Chroma::c420, Chroma::c422, Chroma::c444, Chroma::rgb, Chroma::grey})
    for (const auto transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886}) {
      PictureFormat f = rgb_format(13, 7, 10, transfer);
      f.chroma = chroma, f.siting = Siting::left, f.range = colour::Range::narrow;
      f.matrix = chroma == Chroma::rgb ? Matrix::rgb : Matrix::bt2020_ncl;
      const auto picture = make_picture(f, [&](int, int, int) { return 64 + static_cast<int>(random() % 900); });
      const auto image = light_image(picture).value();
      for (int y = 0; y < 7; ++y)
        for (int x = 0; x < 13; ++x) {
          const auto pixel = pixel_at(picture, x, y);
          EXPECT_EQ(image.light[image.at(x, y)][0], static_cast<float>(pixel.rgb.r));
          EXPECT_EQ(image.light[image.at(x, y)][2], static_cast<float>(pixel.rgb.b));
          EXPECT_EQ(image.signal[image.at(x, y)][1], static_cast<float>(pixel.signal.g));
          EXPECT_NEAR(image.luminance(image.at(x, y)), pixel.xyz.Y, 3e-7 * pixel.xyz.Y + 1e-9);
        }
    }
}

TEST(LightImage, RefusesAPictureThatDoesNotFit) {
  auto picture = make_picture(rgb_format(8, 8), [](int, int, int) { return 5; });
  picture.planes[1].width = 4;
  ASSERT_FALSE(light_image(picture));
  EXPECT_EQ(light_image(picture).error().code, ErrorCode::invalid_input);
}

TEST(LevelScale, PartsByEqualPqSignalExactly) {
  for (const int count : {7, 128, 512, 4096}) {
    const LevelScale scale(count);
    for (int i = 0; i < count; ++i) {
      const double edge = scale.lower_cdm2(i);
      EXPECT_EQ(scale.part(edge), i);
      if (i > 0) {
        EXPECT_EQ(scale.part(std::nextafter(edge, 0.0)), i - 1);
      }
      const double middle = colour::pq_eotf(colour::Signal<>{.value = (i + 0.5) / count}).cdm2;
      EXPECT_EQ(scale.part(middle), i);
    }
    EXPECT_EQ(scale.part(0), 0);
    EXPECT_EQ(scale.part(-1), 0);
    EXPECT_EQ(scale.part(NAN), 0);
    EXPECT_EQ(scale.part(1e9), count - 1);
  }
}

TEST(Waveform, OfARampIsItsDiagonal) {
  const auto c = luminance_waveform(ramp());
  ASSERT_EQ(c.columns, 1024);
  ASSERT_EQ(c.rows, 700);
  const auto cells = filled(c);
  ASSERT_EQ(cells.size(), 1024U);
  for (const auto& [at, n] : cells) {
    EXPECT_EQ(n, 3U);
    EXPECT_EQ(at.second, std::min(699, static_cast<int>(700 * at.first / 1023.0))) << at.first;
  }
}

TEST(Waveform, WidePicturesAreCountedWhole) {
  const auto image =
      light_image(make_picture(rgb_format(1500, 2), [](int, int x, int) { return x < 750 ? 0 : 769; })).value();
  const auto c = luminance_waveform(image);
  EXPECT_EQ(c.columns, 1280);
  EXPECT_EQ(std::accumulate(c.count.begin(), c.count.end(), 0U), 3000U);
  EXPECT_GT(c.at(639, 0), 0U);
  EXPECT_GT(c.at(640, 526), 0U);
  EXPECT_EQ(c.at(639, 526), 0U);
}

TEST(Waveform, EveryPictureColumnCountsWhereTheHeaderSays) {
  for (const int width : {1281, 1283, 2559}) {
    const auto c =
        luminance_waveform(light_image(make_picture(rgb_format(width, 1), [](int, int, int) { return 0; })).value());
    std::vector<std::uint32_t> expected(1280);
    for (int x = 0; x < width; ++x) ++expected[static_cast<std::size_t>(x * 1280 / width)];
    for (int column = 0; column < 1280; ++column)
      ASSERT_EQ(c.at(column, 0), expected[static_cast<std::size_t>(column)]) << width << ' ' << column;
  }
}

TEST(Parade, HasTheSignalOfEachChannel) {
  const auto image =
      light_image(make_picture(rgb_format(4, 2), [](int plane, int, int) { return 100 + 400 * plane; })).value();
  const auto parade = signal_parade(image);
  for (int channel = 0; channel < 3; ++channel) {
    const auto cells = filled(parade[static_cast<std::size_t>(channel)]);
    ASSERT_EQ(cells.size(), 4U);
    EXPECT_EQ(cells.begin()->first.second, cell((100 + 400 * channel) / 1023.0, -0.1, 1.1, kWaveformLevels));
  }
}

/// The colour bars of BT.2111 (PQ, 58 %) in 10-bit narrow range, one a column.
TEST(Chroma, OfTheBarsOfBt2111) {
  using colour::Bar;
  constexpr std::array bars{Bar::white,   Bar::yellow, Bar::cyan, Bar::green,
                            Bar::magenta, Bar::red,    Bar::blue, Bar::black};
  PictureFormat f = rgb_format(8, 2);
  f.range = colour::Range::narrow;
  const auto codes = [&](int x) {
    return colour::bt709_bar_codes(bars[static_cast<std::size_t>(x)], colour::BarSystem::pq_display, 0.58, 10, f.range);
  };
  const auto image = light_image(make_picture(f, [&](int plane, int x, int) {
                       return codes(x)[static_cast<std::size_t>(plane)].value;
                     })).value();
  const auto c = chroma_counts(image);
  EXPECT_EQ(c.x_name, "Cb, BT.2020 NCL");
  EXPECT_EQ(c.left_out, 0U);
  std::map<std::pair<int, int>, std::uint32_t> expected;
  for (int x = 0; x < 8; ++x) {
    std::array<double, 3> e{};
    for (std::size_t i = 0; i < 3; ++i) e[i] = (codes(x)[i].value - 64) / 876.0;
    const double y = 0.2627 * e[0] + 0.6780 * e[1] + 0.0593 * e[2];
    expected[{cell((e[2] - y) / 1.8814, -0.55, 0.55, c.columns), cell((e[0] - y) / 1.4746, -0.55, 0.55, c.columns)}] +=
        2;
  }
  // Greys lie on the edge of four cells: rounding puts them into any.
  std::uint32_t grey = 0, others = 0;
  for (const auto& [at, n] : filled(c)) {
    const bool middle = std::abs(at.first - 349.5) < 1 && std::abs(at.second - 349.5) < 1;
    (middle ? grey : others) += n;
    if (!middle) {
      EXPECT_EQ(n, expected[at]) << at.first << ' ' << at.second;
    }
  }
  EXPECT_EQ(grey, 4U);
  EXPECT_EQ(others, 12U);
}

TEST(Chromaticity, OfWhiteIsThatOfD65AndBlackHasNone) {
  const auto c = chromaticity_counts(flat(203, 203, 203));
  // D65 (0.3127, 0.3290): u' = 0.1978, v' = 0.4683.
  const auto cells = filled(c);
  ASSERT_EQ(cells.size(), 1U);
  EXPECT_EQ(cells.begin()->first, std::make_pair(cell(0.19783, 0, 0.65, c.columns), cell(0.46832, 0, 0.65, c.columns)));
  EXPECT_EQ(cells.begin()->second, 32U);
  EXPECT_EQ(chromaticity_counts(flat(0, 0, 0)).left_out, 32U);
}

TEST(Histogram, CountsLuminanceAndMaxRgb) {
  const auto h = level_histogram(flat(0, 0, 1000));
  const double y = 1000 * colour::rgb_to_xyz_matrix(colour::bt2020_primaries)(1, 2);
  const auto bin = [](double cdm2) {
    return static_cast<std::size_t>(256 * colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value);
  };
  EXPECT_EQ(h.luminance[bin(y)], 32U);
  EXPECT_EQ(h.max_rgb[bin(1000)], 32U);
}

TEST(GamutNeed, OfThePrimaries) {
  EXPECT_EQ(gamut_need({.r = 100, .g = 0, .b = 0}, Gamut::bt2020), GamutNeed::beyond_p3);
  EXPECT_EQ(gamut_need({.r = 100, .g = 0, .b = 0}, Gamut::p3_d65), GamutNeed::beyond_bt709);
  EXPECT_EQ(gamut_need({.r = 100, .g = 0, .b = 0}, Gamut::bt709), GamutNeed::inside_bt709);
  EXPECT_EQ(gamut_need({.r = 0, .g = 0, .b = 0}, Gamut::bt2020), GamutNeed::inside_bt709);
  EXPECT_EQ(gamut_need({.r = 7, .g = 7, .b = 7}, Gamut::bt2020), GamutNeed::inside_bt709);
  // A BT.709 red inside BT.2020 lies on the border, and inside.
  const auto red = colour::rgb_from_rgb(colour::AbsoluteRgb<>{.r = 50, .g = 0, .b = 0},
                                        colour::rgb_to_rgb_matrix(colour::bt709_primaries, colour::bt2020_primaries));
  EXPECT_EQ(gamut_need(red, Gamut::bt2020), GamutNeed::inside_bt709);
  const auto shares = gamut_shares(flat(100, 0, 0));
  EXPECT_EQ(shares.beyond_bt709, 1);
  EXPECT_EQ(shares.beyond_p3, 1);
}

}  // namespace
}  // namespace provenit::programme
