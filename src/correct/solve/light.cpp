#include "light.h"

#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct {

TableLight::TableLight(const Values& values)
    : values_(values),
      light_(values.encoding),
      to_2020_(rgb_to_rgb_matrix(signal::primaries_of(values.encoding.container), colour::bt2020_primaries)),
      from_2020_(rgb_to_rgb_matrix(colour::bt2020_primaries, signal::primaries_of(values.encoding.container))) {}

colour::AbsoluteRgb<> TableLight::of(const Triple& numbers) const {
  return rgb_from_rgb(light_.light({.r = signal_of(values_, numbers[0]).value,
                                    .g = signal_of(values_, numbers[1]).value,
                                    .b = signal_of(values_, numbers[2]).value}),
                      to_2020_);
}

Triple TableLight::numbers(const colour::AbsoluteRgb<>& light) const {
  const colour::SignalRgb<> e = light_.signal(rgb_from_rgb(light, from_2020_));
  return {number_of(values_, {.value = e.r}), number_of(values_, {.value = e.g}), number_of(values_, {.value = e.b})};
}

}  // namespace provenit::correct
