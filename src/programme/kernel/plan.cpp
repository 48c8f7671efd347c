#include "kernel/plan.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "provenit/colour/transfer_hlg.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::programme::kernel {
namespace {

GamutTest gamut_test(Gamut own, Gamut asked) {
  const bool inside = own == asked || own == Gamut::bt709;
  return {.needed = !inside, .to_gamut = colour::rgb_to_rgb_matrix(primaries_of(own), primaries_of(asked))};
}

double highest_light(const PictureFormat& f) {
  if (f.is_float || f.transfer == Transfer::hlg) return std::numeric_limits<double>::infinity();
  return channel_light(f, largest_signal(f));
}

/// Offset and slope of x over the signal. Black lies where a segment begins, and so does a join of the curve's parts
/// (HLG: E' = 0.5 at x = 112; sRGB: 0.04045 at x = 10). The luma's step in x is exact in float where that allows it.
void choose_variable(const PictureFormat& f, double codes, double& offset, double& slope) {
  const double step = std::ldexp(1.0, -f.bits);  // of a code, in the order of the full scale
  const bool narrow = f.range == colour::Range::narrow;
  if (f.transfer == Transfer::hlg) {
    offset = 2.5;
    slope = 219;
  } else if (f.transfer == Transfer::srgb) {
    offset = 1;
    slope = 9 / 0.04045;
  } else {
    offset = 1;
    slope = codes * step * (narrow ? 288 : 248);
  }
}

void set_hlg_gain(double peak, VectorConstants& v) {
  const double exponent = colour::hlg_system_gamma(colour::Luminance<>{.cdm2 = peak}) - 1;
  for (int e = -31; e <= 0; ++e) {
    const int place = e + 31;
    v.hlg_scale[static_cast<std::size_t>(place)] = static_cast<float>(peak * std::exp2(exponent * e));
  }
  const PowerFit power = fit_power(exponent);
  for (std::size_t i = 0; i < power.size(); ++i) v.hlg_power[i] = static_cast<float>(power[i]);
}

VectorConstants vector_constants(const PictureFormat& f, const Decoder& decoder) {
  VectorConstants v;
  // Codes from signal 0 to 1, and code of signal 0, of luma and (in whole codes) of chroma.
  const double width = 1 << (f.bits - 8);
  const bool narrow = f.range == colour::Range::narrow;
  const double luma_codes = narrow ? 219 * width : 256 * width - 1, luma_zero = narrow ? 16 * width : 0;
  double offset = 1, slope = 1;
  choose_variable(f, luma_codes, offset, slope);
  const bool squared = f.transfer == Transfer::pq || f.transfer == Transfer::hlg;
  const auto light = [&](double e) { return channel_light(f, e); };
  v.curve = fit_curve(light, largest_signal(f), offset, slope, squared);
  v.even = fit_evenly(light, largest_signal(f), f.transfer == Transfer::hlg ? 0.5 : 0, f.bits, luma_codes, luma_zero,
                      squared);
  v.local = LocalFits(light, largest_signal(f), v.even);
  v.curve_slope = static_cast<float>(slope / v.even.slope);
  v.black = static_cast<float>(v.even.offset);
  slope = v.even.slope;
  v.luma_slope = static_cast<float>(slope / luma_codes);
  v.luma_offset = static_cast<float>(v.even.offset - luma_zero * slope / luma_codes);
  if (f.chroma == Chroma::rgb) {
    // Luma is G', chroma the differences to it, each times 16.
    for (std::size_t n = 0; n < v.chroma.size(); ++n)
      v.chroma[n].red_cr = v.chroma[n].blue_cb = v.luma_slope * static_cast<float>(n) / 16;
  } else if (f.chroma != Chroma::grey) {
    v.chroma_zero = static_cast<int>(128 * width);
    const double chroma_codes = narrow ? 224 * width : luma_codes, unit = slope / (16 * chroma_codes);
    Samples grey{.value = {0, 16 * v.chroma_zero, 16 * v.chroma_zero}}, cb = grey, cr = grey;
    cb.value[1] += 16;
    cr.value[2] += 16;
    // One code of Cb or Cr changes each signal by a constant, which is taken from the definition itself.
    const auto zero = decoder.signal(grey), with_cb = decoder.signal(cb), with_cr = decoder.signal(cr);
    for (std::size_t n = 0; n < v.chroma.size(); ++n) {
      const auto factor = [&](double with, double without) {
        return static_cast<float>((with - without) * chroma_codes * unit * static_cast<double>(n));
      };
      v.chroma[n] = {.red_cr = factor(with_cr.r, zero.r),
                     .green_cr = factor(with_cr.g, zero.g),
                     .green_cb = factor(with_cb.g, zero.g),
                     .blue_cb = factor(with_cb.b, zero.b)};
    }
  }
  if (f.transfer == Transfer::hlg) set_hlg_gain(f.peak_cdm2, v);
  return v;
}

std::array<std::array<float, 3>, 3> over_diagonal(const colour::Matrix3<>& m) {
  std::array<std::array<float, 3>, 3> out{};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) out[i][j] = static_cast<float>(m(i, j) / m(i, i));
  return out;
}

}  // namespace

bool GamutTest::outside(const colour::AbsoluteRgb<>& rgb) const {
  const double limit = -1e-6 * max_rgb(rgb);
  const auto c = colour::rgb_from_rgb(rgb, to_gamut);
  return c.r < limit || c.g < limit || c.b < limit;
}

Plan::Plan(const PictureFormat& f)
    : format(f),
      grid(f),
      decoder(f),
      bt709(gamut_test(f.gamut, Gamut::bt709)),
      p3(gamut_test(f.gamut, Gamut::p3_d65)),
      highest(highest_light(f)),
      vectors(!f.is_float && f.transfer != Transfer::linear),
      tolerance{.relative = 2e-7, .absolute = 0} {
  if (!vectors) return;
  vector = vector_constants(f, decoder);
  for (std::size_t i = 0; i < 3; ++i) vector.luminance[i] = static_cast<float>(decoder.to_xyz()(1, i));
  vector.bt709 = over_diagonal(bt709.to_gamut);
  vector.p3 = over_diagonal(p3.to_gamut);
  vector.near_grey = NearGrey(vector.bt709);
  // The variable x carries a float's rounding, worth up to 1e-6 of the light where the curves are steepest.
  const double scale = f.transfer == Transfer::pq ? 10 : f.peak_cdm2;
  tolerance = {.relative = 5e-6 + std::max({vector.curve.relative_error, vector.even.relative_error,
                                            vector.local.relative_error()}),
               .absolute = 3e-8 * scale + vector.curve.absolute_error};
}

}  // namespace provenit::programme::kernel
