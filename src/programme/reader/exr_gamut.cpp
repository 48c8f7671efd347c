#include "reader/exr_gamut.h"

#include <fmt/format.h>

#include <cmath>

#include "provenit/colour/adaptation.h"
#include "provenit/colour/primaries.h"

namespace provenit::programme {
namespace {

using colour::Matrix3;
using colour::Vector3;

bool close(const Chromaticities& a, const Chromaticities& b) {
  for (std::size_t i = 0; i < a.size(); ++i)
    if (!(std::abs(a[i] - b[i]) <= 0.001)) return false;
  return true;
}

Chromaticities numbers_of(const colour::Primaries<>& p) {
  return {p.red.x, p.red.y, p.green.x, p.green.y, p.blue.x, p.blue.y, p.white.x, p.white.y};
}

// As rgb_to_xyz_matrix, but for primaries that may have y = 0.
Matrix3<> to_xyz(const Chromaticities& c) {
  Matrix3<> m;
  for (std::size_t i = 0; i < 3; ++i) {
    m(0, i) = c[2 * i];
    m(1, i) = c[2 * i + 1];
    m(2, i) = 1 - c[2 * i] - c[2 * i + 1];
  }
  const Vector3<> white{c[6] / c[7], 1, (1 - c[6] - c[7]) / c[7]};
  return m * colour::diagonal(colour::inverse(m) * white);
}

bool is_finite(const Matrix3<>& m) {
  for (const auto& row : m.row)
    for (const double v : row)
      if (!std::isfinite(v)) return false;
  return true;
}

}  // namespace

Result<GamutChoice> choose_gamut(const Chromaticities& xy) {
  if (close(xy, numbers_of(colour::bt709_primaries)))
    return GamutChoice{.gamut = Gamut::bt709, .to_gamut = {}, .note = {}};
  if (close(xy, numbers_of(colour::p3_d65_primaries)))
    return GamutChoice{.gamut = Gamut::p3_d65, .to_gamut = {}, .note = {}};
  if (close(xy, numbers_of(colour::bt2020_primaries)))
    return GamutChoice{.gamut = Gamut::bt2020, .to_gamut = {}, .note = {}};
  Matrix3<> m = to_xyz(xy);
  const bool is_xyz = close({xy[0], xy[1], xy[2], xy[3], xy[4], xy[5], 0, 0}, {1, 0, 0, 1, 0, 0, 0, 0});
  if (!is_xyz) {
    const colour::Xy<> white{.x = xy[6], .y = xy[7]};
    m = colour::adaptation_matrix(colour::AdaptationTransform::bradford, colour::white_xyz(white),
                                  colour::white_xyz(colour::d65_video)) *
        m;
  }
  m = colour::xyz_to_rgb_matrix(colour::bt2020_primaries) * m;
  const std::string text = fmt::format("chromaticities R {:.4f} {:.4f} G {:.4f} {:.4f} B {:.4f} {:.4f} W {:.4f} {:.4f}",
                                       xy[0], xy[1], xy[2], xy[3], xy[4], xy[5], xy[6], xy[7]);
  if (!is_finite(m))
    return fail(ErrorCode::invalid_input, text + " make no colour space", "Correct the attribute of the file.",
                {.field = "chromaticities"});
  return GamutChoice{.gamut = Gamut::bt2020,
                     .to_gamut = m,
                     .note = text + (is_xyz ? ": CIE XYZ, converted to linear BT.2020 without adaptation"
                                            : ": converted to linear BT.2020, white adapted to D65 (Bradford)")};
}

}  // namespace provenit::programme
