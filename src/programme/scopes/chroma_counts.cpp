// Colour-difference and chromaticity densities.
#include <cmath>

#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/ycbcr.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

constexpr int kSide = 700;

Counts square(std::string x_name, std::string y_name, double first, double last) {
  Counts c{.columns = kSide,
           .rows = kSide,
           .x_first = first,
           .x_last = last,
           .y_first = first,
           .y_last = last,
           .x_name = std::move(x_name),
           .y_name = std::move(y_name)};
  c.count.resize(static_cast<std::size_t>(kSide) * kSide);
  return c;
}

void add(Counts& c, double x, double y) {
  const double column = std::floor((x - c.x_first) / (c.x_last - c.x_first) * c.columns);
  const double row = std::floor((y - c.y_first) / (c.y_last - c.y_first) * c.rows);
  if (column >= 0 && column < c.columns && row >= 0 && row < c.rows)
    ++c.count[static_cast<std::size_t>(row) * static_cast<std::size_t>(c.columns) + static_cast<std::size_t>(column)];
  else
    ++c.left_out;
}

struct OwnMatrix {
  colour::YcbcrMatrix matrix;
  const char* name;
};
OwnMatrix own_matrix(const PictureFormat& f) {
  if (f.matrix == Matrix::bt601) return {colour::YcbcrMatrix::bt601, "BT.601"};
  if (f.matrix == Matrix::bt709) return {colour::YcbcrMatrix::bt709, "BT.709"};
  if (f.matrix == Matrix::bt2020_ncl || f.gamut == Gamut::bt2020)
    return {colour::YcbcrMatrix::bt2020_ncl, "BT.2020 NCL"};
  return {colour::YcbcrMatrix::bt709, "BT.709"};
}

}  // namespace

Counts chroma_counts(const LightImage& image, double range) {
  const OwnMatrix own = own_matrix(image.format);
  Counts c = square(std::string("Cb, ") + own.name, std::string("Cr, ") + own.name, -range, range);
  const bool linear = image.format.transfer == Transfer::linear;
  for (std::size_t i = 0; i < image.signal.size(); ++i) {
    colour::SignalRgb<> s{.r = image.signal[i][0], .g = image.signal[i][1], .b = image.signal[i][2]};
    if (linear)
      s = colour::pq_inverse_eotf(
          colour::AbsoluteRgb<>{.r = image.light[i][0], .g = image.light[i][1], .b = image.light[i][2]});
    const auto d = colour::ycbcr_from_rgb(s, own.matrix);
    add(c, d.cb, d.cr);
  }
  return c;
}

Counts chromaticity_counts(const LightImage& image) {
  Counts c = square("u'", "v'", 0, 0.65);
  const auto& m = image.to_xyz;
  for (std::size_t i = 0; i < image.light.size(); ++i) {
    const auto& l = image.light[i];
    const double Y = image.luminance(i);
    if (Y < kDarkestWithColour_cdm2) {
      ++c.left_out;
      continue;
    }
    const double X = m(0, 0) * l[0] + m(0, 1) * l[1] + m(0, 2) * l[2];
    const double Z = m(2, 0) * l[0] + m(2, 1) * l[1] + m(2, 2) * l[2];
    const double d = X + 15 * Y + 3 * Z;
    add(c, 4 * X / d, 9 * Y / d);
  }
  return c;
}

}  // namespace provenit::programme
