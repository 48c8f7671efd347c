#include "kernel_frames.h"

#include <algorithm>
#include <cmath>

namespace provenit::programme::testing {
namespace {

/// Signal of a plane at a place, 0 to 1 for Y', R', G', B' and -0.5 to 0.5 for chroma, somewhat beyond in places.
double signal_at(const PictureFormat& f, Content content, int plane, double u, double v, double random) {
  const bool chroma = plane > 0 && f.chroma != Chroma::rgb;
  switch (content) {
    case Content::noise:
      return chroma ? random * 1.1 - 0.55 : random * 1.2 - 0.1;
    case Content::soft:
      return chroma ? 0.15 * std::sin(5 * u + plane) + 0.02 * (random - 0.5)
                    : 0.4 + 0.3 * std::sin(3 * u + 2 * v + plane) + 0.03 * (random - 0.5);
    case Content::letterbox:
      if (v < 0.17 || v > 0.81 || u < 0.09 || u > 0.95) return chroma ? 0 : (random < 0.5 ? 0.005 : 0.0);
      return chroma ? 0.1 * std::cos(7 * v) : 0.2 + 0.5 * u + 0.05 * random;
    case Content::near_black:
      return chroma ? 0.01 * (random - 0.5) : 0.02 + 0.08 * u * random;
    case Content::highlights:
      if (chroma) return 0.04 * (random - 0.5);
      return std::hypot(u - 0.6, v - 0.4) < 0.1 || random > 0.998 ? 0.75 + 0.3 * random : 0.03 * random;
    case Content::flat:
      return chroma ? 0.1 * plane : 0.55 + 0.01 * plane;
    case Content::saturated:
      return chroma ? (random < 0.5 ? -0.45 : 0.45) * std::sqrt(u) : 0.3 + 0.2 * v;
    case Content::calm:  // little changes within a cell; from neutral to beyond BT.709, from dark to above the peak
      return chroma ? 0.12 * v * std::cos(9 * u + 2 * plane) + 0.002 * random : 1.04 * u + 0.01 * random;
  }
  return 0;
}

double code_of(const PictureFormat& f, int plane, double signal) {
  const bool chroma = plane > 0 && f.chroma != Chroma::rgb, narrow = f.range == colour::Range::narrow;
  const double step = 1 << (f.bits - 8), top = (1 << f.bits) - 1;
  const double scale = narrow ? (chroma ? 224 : 219) * step : top;
  const double zero = chroma ? 128 * step : narrow ? 16 * step : 0;
  return std::clamp(std::round(zero + scale * signal), 0.0, top);
}

}  // namespace

Picture draw(const PictureFormat& format, Content content, unsigned seed, Layout layout) {
  std::mt19937 generator(seed);
  std::uniform_real_distribution<double> uniform(0, 1);
  return make_picture(
      format,
      [&](int plane, int x, int y) {
        const double u = (x + 0.5) / plane_width(format, plane), v = (y + 0.5) / plane_height(format, plane);
        const double s = signal_at(format, content, plane, u, v, uniform(generator));
        return format.is_float ? s * s : code_of(format, plane, s);
      },
      layout);
}

std::vector<PictureFormat> all_formats() {
  struct ChromaSiting {
    Chroma chroma;
    Siting siting;
  };
  constexpr std::array<ChromaSiting, 9> kChroma{{{Chroma::c420, Siting::left},
                                                 {Chroma::c420, Siting::centre},
                                                 {Chroma::c420, Siting::top_left},
                                                 {Chroma::c420, Siting::top},
                                                 {Chroma::c422, Siting::left},
                                                 {Chroma::c422, Siting::centre},
                                                 {Chroma::c444, Siting::left},
                                                 {Chroma::rgb, Siting::left},
                                                 {Chroma::grey, Siting::left}}};
  constexpr std::array<Matrix, 3> kMatrices{Matrix::bt2020_ncl, Matrix::bt709, Matrix::bt601};
  constexpr std::array<Gamut, 3> kGamuts{Gamut::bt2020, Gamut::p3_d65, Gamut::bt709};
  constexpr std::array<Transfer, 4> kTransfers{Transfer::pq, Transfer::hlg, Transfer::bt1886, Transfer::srgb};
  constexpr std::array<double, 4> kPeaks{1000, 100, 4000, 300};
  std::vector<PictureFormat> formats;
  unsigned i = 0;
  for (const auto& [chroma, siting] : kChroma)
    for (const int bits : {8, 9, 10, 12, 14, 16})
      for (const colour::Range range : {colour::Range::narrow, colour::Range::full})
        for (const Transfer transfer : kTransfers) {
          PictureFormat f{.width = 67, .height = 45, .bits = bits, .chroma = chroma, .range = range};
          f.transfer = transfer;
          f.gamut = transfer == Transfer::hlg ? Gamut::bt2020 : kGamuts[i % 3];
          f.matrix = chroma == Chroma::rgb ? Matrix::rgb : kMatrices[i / 3 % 3];
          f.siting = siting;
          f.peak_cdm2 = kPeaks[i / 5 % 4];
          formats.push_back(f);
          ++i;
        }
  return formats;
}

}  // namespace provenit::programme::testing
