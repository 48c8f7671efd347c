#include "provenit/signal/codes.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/quantise.h"
#include "provenit/colour/transfer.h"

namespace provenit::signal {
namespace {

/// Signal for which the encoding's reference display shows this grey; luminance from 0 to the peak.
colour::Signal<> reference_signal(const Encoding& encoding, colour::Luminance<> luminance) {
  const colour::Luminance<> peak{.cdm2 = encoding.nominal_peak_cdm2}, no_light{.cdm2 = 0};
  switch (encoding.transfer) {
    case Transfer::pq:
      return colour::pq_inverse_eotf(luminance);
    case Transfer::hlg: {
      const colour::HlgDisplay<> display{
          .peak = peak, .black = no_light, .system_gamma = colour::hlg_system_gamma(peak)};
      return colour::hlg_inverse_eotf_grey(luminance, display);
    }
    case Transfer::bt1886:
      break;
  }
  return colour::bt1886_inverse_eotf(luminance, colour::Bt1886Display<>{.peak = peak, .black = no_light});
}

}  // namespace

CodeRgb grey_code(const Encoding& encoding, colour::Signal<> signal) {
  const int code = colour::quantise(signal, encoding.bits, encoding.range).value;
  return {.code = {code, code, code}};
}

Result<CodeRgb> grey_code(const Encoding& encoding, colour::Luminance<> luminance) {
  if (const auto ok = validate(encoding); !ok) return tl::unexpected(ok.error());
  if (std::isnan(luminance.cdm2))
    return fail(ErrorCode::out_of_range, "a luminance of NaN has no code", "Give a luminance in cd/m2.");
  const double top_cdm2 = encoding.transfer == Transfer::pq ? colour::pq::peak_cdm2 : encoding.nominal_peak_cdm2;
  const auto signal = reference_signal(encoding, {.cdm2 = std::clamp(luminance.cdm2, 0.0, top_cdm2)});
  return grey_code(encoding, colour::Signal<>{.value = std::clamp(signal.value, 0.0, 1.0)});
}

CodeRgb black_code(const Encoding& encoding) {
  return grey_code(encoding, colour::Signal<>{.value = 0});
}

CodeRgb peak_code(const Encoding& encoding) {
  return grey_code(encoding, colour::Signal<>{.value = 1});
}

CodeRgb nearest_code(const Encoding& encoding, const colour::SignalRgb<>& signal) {
  const auto code = [&](double e) {
    return grey_code(encoding, colour::Signal<>{.value = std::isfinite(e) ? std::clamp(e, 0.0, 1.0) : 0.0}).code[0];
  };
  return {.code = {code(signal.r), code(signal.g), code(signal.b)}};
}

}  // namespace provenit::signal
