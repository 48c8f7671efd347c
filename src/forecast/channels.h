#pragma once
// The display's channels, taken out of its fitted model by asking it for greys and colours.
#include <functional>

#include "provenit/forecast/display.h"

namespace provenit::forecast {

/// Light behind a grey of this PQ signal that does not come through its channels (leakage), XYZ in cd/m2.
using BehindGrey = std::function<colour::AbsoluteXyz<>(double grey_light)>;

/// in   model: PQ; behind: in the model's own window, by the share (0 to 1) of white's top that the grey has
[[nodiscard]] Channels channels_of(const correct::DisplayModel& model, const BehindGrey& behind);

/// Light of the container, cd/m2, for a signal.
[[nodiscard]] colour::AbsoluteRgb<> container_light(const signal::Encoding& encoding, const signal::CodeRgb& code);

}  // namespace provenit::forecast
