#include <algorithm>
#include <cmath>

#include "decoder_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/encoding.h"

namespace provenit::simulated {
namespace {

colour::AbsoluteRgb<> light_of(const signal::Encoding& encoding, const signal::CodeRgb& code) {
  const auto s = signal::signal_of(encoding, code);
  const colour::Luminance<> peak{.cdm2 = encoding.nominal_peak_cdm2}, black{.cdm2 = 0};
  switch (encoding.transfer) {
    case signal::Transfer::hlg:
      return colour::hlg_eotf(
          s, colour::HlgDisplay<>{.peak = peak, .black = black, .system_gamma = colour::hlg_system_gamma(peak)});
    case signal::Transfer::bt1886:
      return colour::bt1886_eotf(s, colour::Bt1886Display<>{.peak = peak, .black = black});
    case signal::Transfer::pq:
      break;
  }
  return colour::pq_eotf(s);
}

}  // namespace

Decoder::Decoder(const Decoding& decoding) : decoding_(decoding) {
  const auto& p = decoding.believed_primaries;
  const colour::Primaries<> native{.red = p[0], .green = p[1], .blue = p[2], .white = decoding.believed_white};
  for (const auto container : {signal::Container::bt709, signal::Container::p3_d65, signal::Container::bt2020})
    to_native_[static_cast<std::size_t>(container)] =
        colour::rgb_to_rgb_matrix(signal::primaries_of(container), native);
}

Drive Decoder::drive(const signal::Encoding& encoding, const signal::CodeRgb& code) const {
  // Light above the clip is not followed any further, so that a saturated colour keeps its hue there.
  const double peak = decoding_.believed_peak_cdm2, clip = peak * (2 - decoding_.roll_off_start);
  auto light = light_of(encoding, code);
  for (double* channel : {&light.r, &light.g, &light.b}) *channel = std::min(*channel, clip);
  const auto native = colour::rgb_from_rgb(light, to_native_[static_cast<std::size_t>(encoding.container)]);
  return {rolled_off(native.r / peak), rolled_off(native.g / peak), rolled_off(native.b / peak)};
}

double Decoder::rolled_off(double drive) const {
  const double start = decoding_.roll_off_start;
  if (drive <= start) return std::max(drive, 0.0);
  if (drive >= 2 - start) return 1;
  return drive - (drive - start) * (drive - start) / (4 * (1 - start));
}

}  // namespace provenit::simulated
