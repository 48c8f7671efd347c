#include "light.h"

#include <algorithm>

#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal {

ReferenceLight::ReferenceLight(const Encoding& encoding)
    : table_(std::size_t(1) << encoding.bits),
      hlg_(encoding.transfer == Transfer::hlg),
      display_(colour::hlg_display(colour::Luminance<>{.cdm2 = encoding.nominal_peak_cdm2},
                                   colour::Luminance<>{.cdm2 = 0})) {
  const colour::Bt1886Display<> sdr{.peak = {.cdm2 = encoding.nominal_peak_cdm2}, .black = {.cdm2 = 0}};
  for (std::size_t code = 0; code < table_.size(); ++code) {
    const auto signal = signal_of(encoding, static_cast<int>(code));
    switch (encoding.transfer) {
      case Transfer::pq:
        table_[code] = colour::pq_eotf(signal).cdm2;
        break;
      case Transfer::bt1886:
        table_[code] = colour::bt1886_eotf(signal, sdr).cdm2;
        break;
      case Transfer::hlg:
        table_[code] = signal.value;
        break;
    }
  }
}

colour::AbsoluteRgb<> ReferenceLight::of(int r, int g, int b) const {
  const auto at = [&](int code) { return table_[static_cast<std::size_t>(code)]; };
  if (!hlg_) return {.r = at(r), .g = at(g), .b = at(b)};
  const auto light = colour::hlg_eotf(colour::SignalRgb<>{.r = at(r), .g = at(g), .b = at(b)}, display_);
  return {.r = std::max(light.r, 0.0), .g = std::max(light.g, 0.0), .b = std::max(light.b, 0.0)};
}

}  // namespace provenit::signal
