#include "light.h"

#include <algorithm>

#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct {

TableLight::TableLight(const Values& values)
    : values_(values),
      peak_{.cdm2 = values.encoding.nominal_peak_cdm2},
      hlg_(colour::hlg_display(peak_, colour::Luminance<>{.cdm2 = 0})),
      bt1886_{.peak = peak_, .black = {.cdm2 = 0}},
      to_2020_(rgb_to_rgb_matrix(signal::primaries_of(values.encoding.container), colour::bt2020_primaries)),
      from_2020_(rgb_to_rgb_matrix(colour::bt2020_primaries, signal::primaries_of(values.encoding.container))) {}

colour::AbsoluteRgb<> TableLight::of(const Triple& numbers) const {
  const colour::SignalRgb<> e{.r = signal_of(values_, numbers[0]).value,
                              .g = signal_of(values_, numbers[1]).value,
                              .b = signal_of(values_, numbers[2]).value};
  return rgb_from_rgb(shown(e), to_2020_);
}

Triple TableLight::numbers(const colour::AbsoluteRgb<>& light) const {
  colour::AbsoluteRgb<> own = rgb_from_rgb(light, from_2020_);
  for (double* x : {&own.r, &own.g, &own.b}) *x = std::max(*x, 0.0);
  const colour::SignalRgb<> e = signals(own);
  return {number_of(values_, {.value = e.r}), number_of(values_, {.value = e.g}), number_of(values_, {.value = e.b})};
}

colour::AbsoluteRgb<> TableLight::shown(const colour::SignalRgb<>& e) const {
  switch (values_.encoding.transfer) {
    case signal::Transfer::pq:
      return pq_eotf(e);
    case signal::Transfer::hlg:
      return hlg_eotf(e, hlg_);
    case signal::Transfer::bt1886:
      break;
  }
  return bt1886_eotf(e, bt1886_);
}

colour::SignalRgb<> TableLight::signals(const colour::AbsoluteRgb<>& light) const {
  switch (values_.encoding.transfer) {
    case signal::Transfer::pq:
      return pq_inverse_eotf(light);
    case signal::Transfer::hlg:
      return hlg_inverse_eotf(light, hlg_);
    case signal::Transfer::bt1886:
      break;
  }
  return bt1886_inverse_eotf(light, bt1886_);
}

}  // namespace provenit::correct
