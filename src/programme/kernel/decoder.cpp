#include "kernel/decoder.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "provenit/colour/transfer.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::programme::kernel {
namespace {

colour::YcbcrMatrix ycbcr_matrix(Matrix matrix) {
  if (matrix == Matrix::bt601) return colour::YcbcrMatrix::bt601;
  return matrix == Matrix::bt709 ? colour::YcbcrMatrix::bt709 : colour::YcbcrMatrix::bt2020_ncl;
}

double float_of(std::int32_t bits) {
  return static_cast<double>(std::bit_cast<float>(bits));
}

/// Negative and NaN as 0, infinite as the largest float.
double linear_sample(double value) {
  if (!(value > 0)) return 0;
  return std::min(value, static_cast<double>(std::numeric_limits<float>::max()));
}

}  // namespace

double largest_signal(const PictureFormat& format) {
  if (format.transfer != Transfer::hlg || format.range == colour::Range::full) return 1;
  const int top = colour::video_data_range(format.bits, format.range).highest;
  return colour::dequantise({.value = top, .bits = format.bits, .range = format.range}).value;
}

double channel_light(const PictureFormat& format, double e) {
  const colour::Signal<> signal{.value = std::clamp(e, 0.0, largest_signal(format))};
  const colour::Luminance<> peak{.cdm2 = format.peak_cdm2};
  switch (format.transfer) {
    case Transfer::pq:
      return colour::pq_eotf(signal).cdm2;
    case Transfer::hlg:
      return colour::hlg_inverse_oetf(signal).value;
    case Transfer::bt1886:
      return colour::bt1886_eotf(signal, colour::Bt1886Display<>{.peak = peak, .black = {.cdm2 = 0}}).cdm2;
    case Transfer::srgb:
      return format.peak_cdm2 * colour::srgb_eotf(signal).value;
    case Transfer::linear:
      break;
  }
  return format.peak_cdm2 * signal.value;
}

Decoder::Decoder(const PictureFormat& format)
    : format_(format),
      to_xyz_(colour::rgb_to_xyz_matrix(primaries_of(format.gamut))),
      largest_(largest_signal(format)) {
  if (format.is_float) return;
  // The lines of colour::dequantise, for codes that are not whole numbers.
  const double step = 1 << (format.bits - 8);
  const bool narrow = format.range == colour::Range::narrow;
  luma_offset_ = narrow ? 16 * step : 0;
  luma_scale_ = narrow ? 219 * step : 256 * step - 1;
  chroma_offset_ = 128 * step;
  chroma_scale_ = narrow ? 224 * step : 256 * step - 1;
}

colour::SignalRgb<> Decoder::signal(const Samples& samples) const {
  const auto& v = samples.value;
  if (format_.is_float) {
    const double r = float_of(v[0]);
    if (format_.chroma == Chroma::grey) return {.r = r, .g = r, .b = r};
    return {.r = r, .g = float_of(v[1]), .b = float_of(v[2])};
  }
  const double y = luma(v[0]);
  if (format_.chroma == Chroma::grey) return {.r = y, .g = y, .b = y};
  if (format_.chroma == Chroma::rgb) return {.r = y, .g = luma(v[1] / 16.0), .b = luma(v[2] / 16.0)};
  return colour::rgb_from_ycbcr(colour::SignalYcbcr<>{.y = y, .cb = chroma(v[1]), .cr = chroma(v[2])},
                                ycbcr_matrix(format_.matrix));
}

colour::AbsoluteRgb<> Decoder::light(const colour::SignalRgb<>& s) const {
  if (format_.is_float)
    return {.r = format_.peak_cdm2 * linear_sample(s.r),
            .g = format_.peak_cdm2 * linear_sample(s.g),
            .b = format_.peak_cdm2 * linear_sample(s.b)};
  if (format_.transfer == Transfer::hlg) {
    const colour::SignalRgb<> c{
        .r = std::clamp(s.r, 0.0, largest_), .g = std::clamp(s.g, 0.0, largest_), .b = std::clamp(s.b, 0.0, largest_)};
    const colour::Luminance<> peak{.cdm2 = format_.peak_cdm2};
    return colour::hlg_eotf(c, colour::hlg_display(peak, colour::Luminance<>{.cdm2 = 0}));
  }
  return {.r = channel_light(format_, s.r), .g = channel_light(format_, s.g), .b = channel_light(format_, s.b)};
}

}  // namespace provenit::programme::kernel
